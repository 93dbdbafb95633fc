"""The site on this computer folds its database into one file, keeps a backup a day, and stops when it is told to."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
from django.core.management import CommandError

from fleet.management.commands.serve import Command as Serve
from fleet.management.daily import _did
from tests import make
from tests.exchange.sites import ROOT, own_environment
from tests.ports import free_port

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows stops a program in another way")


READING_ALL = """
import inspect, sys
import fleet.wsgi
from django.urls import get_resolver

def read(addresses):
    for one in addresses:
        read(one.url_patterns) if hasattr(one, "url_patterns") else inspect.unwrap(one.callback)

print(*sys.modules)
read(get_resolver().url_patterns)
print(*sys.modules)
"""
MANAGE = [sys.executable, "-X", "utf8", str(ROOT / "manage.py")]


def copied(data: Path) -> list[str]:
    """Names of the schools in a copy of the database's file alone."""
    shutil.copy(data / "horns.sqlite3", data / "copy.sqlite3")
    with closing(sqlite3.connect(data / "copy.sqlite3")) as copy:
        return [name for (name,) in copy.execute("SELECT name FROM people_school ORDER BY id")]


def schools_when_served(tmp_path: Path, given: dict[str, str]) -> list[str]:
    command = [*MANAGE, "serve", "--port", str(free_port())]
    with subprocess.Popen(command, env=given, stdout=subprocess.PIPE, text=True, encoding="utf-8") as site:
        try:
            assert any(line.startswith("Data: ") for line in site.stdout)
            return copied(tmp_path)
        finally:
            site.kill()


def test_a_site_that_has_data_already_is_served_as_it_is(tmp_path):
    given = own_environment(tmp_path)
    begun = ["begin", "--school", "Its own", "--head", "Ines Head", "--email", "ines@example.org"]
    for words in (["prepare"], begun):
        subprocess.run([*MANAGE, *words], env=given, check=True, capture_output=True)

    assert schools_when_served(tmp_path, given) == ["Its own"]


def test_the_demo_and_its_known_passwords_are_not_loaded_where_others_come_in(tmp_path):
    assert schools_when_served(tmp_path, own_environment(tmp_path, HORN_SITE="https://horns.example.org")) == []


def answers_beside(port: str, waiting: int) -> str:
    """The first line of an answer while so many others keep their connections open and ask nothing."""
    with ExitStack() as stack:
        for _ in range(waiting):
            stack.enter_context(socket.create_connection(("127.0.0.1", int(port)), timeout=60))
        asking = stack.enter_context(socket.create_connection(("127.0.0.1", int(port)), timeout=60))
        asking.sendall(b"GET /alive/ HTTP/1.1\r\nHost: localhost\r\n\r\n")
        return asking.recv(15).decode()


def test_a_served_sites_file_is_whole_alone_a_backup_is_kept_and_being_told_to_stop_ends_it_well(tmp_path):
    port = str(free_port())
    with subprocess.Popen(
        [*MANAGE, "serve", "--port", port],
        env=own_environment(tmp_path),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    ) as site:
        try:
            said = ""
            # Its lines come while it is at work; the last one waited for is that of the backup.
            for line in site.stdout:
                said += line
                if line.startswith("Data: "):
                    assert copied(tmp_path) != []
                if line.startswith(("Backed up", "Not done")):
                    break
            # Thirty phones that keep five connections each.
            assert answers_beside(port, 150) == "HTTP/1.1 200 OK"
            with closing(sqlite3.connect(tmp_path / "horns.sqlite3")) as other:
                other.execute("UPDATE people_school SET name = 'Written last'")
                other.commit()
                site.send_signal(signal.SIGTERM)
                site.wait(timeout=300)
                assert set(copied(tmp_path)) == {"Written last"}
        finally:
            site.kill()
    assert site.returncode == 0, said
    made = re.search(r"^Backed up: (.*)\. The last 7 days are kept there", said, re.M)
    assert made, said
    assert Path(made[1]).parent == tmp_path / "backups"
    assert [path.name for path in (tmp_path / "backups").iterdir()] == [Path(made[1]).name]
    assert "a backup of each of the last 7 days" in said


class Closed(socket.socket):
    """A port that Windows does not give."""

    number = 0

    def bind(self, address):
        trouble = OSError(0, "not given")
        trouble.winerror = self.number  # type: ignore[attr-defined]
        raise trouble


@pytest.mark.parametrize(
    ("number", "said"), [(10013, "taken or not allowed"), (10048, "taken or not allowed"), (10049, "cannot be opened")]
)
def test_a_port_that_windows_does_not_give_is_told_from_one_that_cannot_be(monkeypatch, number, said):
    monkeypatch.setattr(Closed, "number", number)
    monkeypatch.setattr(socket, "socket", Closed)
    with pytest.raises(CommandError, match=said):
        Serve()._listener(8000)


def test_where_a_port_could_be_shared_it_is_taken_alone(monkeypatch):
    # Only Windows knows this option; another of the kind stands for it here.
    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_KEEPALIVE, raising=False)
    with Serve()._listener(0) as listener:
        assert listener.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        assert listener.getsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR) == 0


@pytest.mark.django_db
@pytest.mark.parametrize(("backups", "done"), [("a file in the way", False), (None, True)])
def test_a_days_work_that_a_disk_kept_back_is_not_done_and_said_so(tmp_path, settings, backups, done):
    settings.DATA_DIR = tmp_path
    make.school()
    if backups:
        (tmp_path / "backups").write_text(backups, encoding="utf-8")
    said: list[str] = []

    assert _did(make.NOW, said.append) is done
    assert said[0].startswith("Backed up" if done else "Not done yet")


def test_no_package_that_takes_long_to_load_comes_in_when_the_site_starts(tmp_path):
    """Whoever opens its first page would wait for it, and each worker holds it."""
    environment = own_environment(tmp_path)

    said = subprocess.run(
        [sys.executable, "-c", READING_ALL], cwd=ROOT, check=True, capture_output=True, text=True, env=environment
    ).stdout
    started, whole = (set(line.split()) for line in said.splitlines())

    assert "fleet.urls" in started
    assert started & {"fleet.desk.pages.today", "fleet.reports.pages.horns", "fleet.exchange.pages.imports"} == set()
    # Nor with any page, when somebody first asks for it.
    assert "fleet.desk.pages.today" in whole
    assert whole & {"numpy", "scipy", "reportlab", "openpyxl", "verovio", "icalendar", "psycopg"} == set()
