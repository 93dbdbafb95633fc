"""A restore that is told to stop brings everything in or nothing, and says which."""

from __future__ import annotations

import os
import shutil

import pytest

from tests.exchange.sites import BEGIN, but_for_the_record, own_sites

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(os.name == "nt", reason="Windows stops a program in another way"),
]

# The command hears the signal where it says these words, or says all of them. Ctrl-C is ignored by what runs in the
# background, as these tests may.
TOLD_TO_STOP = BEGIN + (
    "import io, os, signal; from django.core.management import CommandError, call_command\n"
    "class Said(io.StringIO):\n"
    "    def write(self, words):\n"
    "        if words.startswith(sys.argv[2]): os.kill(os.getpid(), signal.SIGTERM)\n"
    "        return super().write(words)\n"
    "said = Said()\n"
    "try: call_command('restore', sys.argv[1], stdout=said); print(said.getvalue())\n"
    "except CommandError as no: print(no, no.returncode)\n"
)
PREPARE_STOPS = BEGIN + (
    "import os, signal; from django.core.management import CommandError, call_command\n"
    "from django.db.models.signals import pre_migrate\n"
    "def stop(**told): os.kill(os.getpid(), signal.SIGTERM)\n"
    "pre_migrate.connect(stop)\n"
    "try: call_command('restore', sys.argv[1])\n"
    "except CommandError as no: print(no, no.returncode)\n"
)


@pytest.fixture(scope="module")
def kept(furnished, tmp_path_factory):
    """A backup of it, made from a copy, since making one is written on the record."""
    folder = tmp_path_factory.mktemp("kept")
    with own_sites(folder / "sites") as made:
        made(like=furnished).python(BEGIN + "call('backup', sys.argv[1])", str(folder / "backup.zip"))
    return folder / "backup.zip"


@pytest.fixture(scope="module")
def was(furnished, furnished_rows):
    return but_for_the_record(furnished_rows), furnished.pictures()


@pytest.fixture
def other(tmp_path, kept):
    with own_sites(tmp_path / "sites") as made:
        site = made()
        shutil.copy(kept, site.data)
        yield site


def all_of(site):
    return but_for_the_record(site.rows()), site.pictures()


def test_told_to_stop_before_the_database_is_in_nothing_is_and_it_can_be_done_again(other, was):
    said = other.python(TOLD_TO_STOP, str(other.data / "backup.zip"), "pictures: ")

    assert said.strip() == "Stopped before it was done. Nothing was restored. 143"
    assert other.pictures() == {}
    other.python(BEGIN + "call('restore', sys.argv[1])", str(other.data / "backup.zip"))
    assert all_of(other) == was


def test_told_to_stop_once_the_database_is_in_it_goes_on_to_its_end(other, was):
    said = other.python(TOLD_TO_STOP, str(other.data / "backup.zip"), "database: ")

    assert "The site is as it was on" in said
    assert all_of(other) == was


def test_told_to_stop_while_the_site_is_made_ready_it_says_that_all_is_back(other, was):
    said = other.python(PREPARE_STOPS, str(other.data / "backup.zip"))

    assert said.strip().endswith("The site is back. Stopped before it was made ready: run manage.py prepare. 143")
    other.python(BEGIN + "call('prepare')")
    assert all_of(other) == was
