"""A whole site is backed up while it runs and comes back, or nothing of it does, wherever it is cut off."""

from __future__ import annotations

import hashlib
import json
import os
import re
import stat
import zipfile
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connection

from fleet.exchange.actions.site_in import restore
from fleet.exchange.queries.backups import DATABASE, looked_through
from fleet.exchange.queries.site_out import back_up
from fleet.ground.refusal import Refused
from tests import make
from tests.exchange.sites import BEGIN, ROOT, but_for_the_record, own_sites

pytestmark = pytest.mark.django_db


@pytest.fixture
def a_site(tmp_path):
    with own_sites(tmp_path / "sites") as made:
        yield made


@pytest.fixture
def lived_in(a_site, furnished):
    return a_site(like=furnished)


# Somebody writes and has not come to the end of it; a session is open; nothing is folded into the database's file.
IN_USE = BEGIN + (
    "import threading; from django.db import connection, transaction; from tests import make\n"
    "AT_ONCE = {'timeout': 0} if connection.vendor == 'sqlite' else {}\n"
    "from django.contrib.sessions.backends.db import SessionStore; session = SessionStore()\n"
    "session['kept'] = 'a sign-in'; session.save()\n"
    "def elsewhere(): connection.settings_dict['OPTIONS'] |= AT_ONCE; call(*sys.argv[1:]); connection.close()\n"
    "with transaction.atomic():\n"
    "    make.school(slug='not-yet')\n"
    "    other = threading.Thread(target=elsewhere); other.start(); other.join()\n"
)


# Record and kept columns are as they should be; then how many sessions there are.
PROVEN = BEGIN + (
    "call('verify_record'); call('reconcile')\n"
    "from django.contrib.sessions.models import Session; print(Session.objects.count())\n"
)
# Into a site that was empty when the night went over it; then whether its tables are measured again.
AFTER_A_NIGHT = BEGIN + (
    "from django.db import connection\n"
    "call('migrate', verbosity=0); call('forget', '--do'); call(*sys.argv[1:])\n"
    "print('sqlite_stat1' in connection.introspection.table_names())\n"
)
BACKUP = BEGIN + "call('backup', sys.argv[1])"
BOTH_REFUSED = BEGIN + (
    "from django.core.management import CommandError\n"
    "for word in ('restore', 'backup'):\n"
    "    try: call(word, sys.argv[1])\n"
    "    except CommandError as no: print(no)\n"
)


def backup_words(command: str) -> list[str]:
    """The words behind manage.py as README gives them."""
    found = re.findall(rf"^\.venv/bin/python manage\.py ({command} .*)$", (ROOT / "README.md").read_text("utf-8"), re.M)
    assert len(found) == 1
    return found[0].split()


def test_what_readme_says_of_a_backup_while_it_runs_and_of_bringing_it_back(lived_in, furnished_rows, a_site, tmp_path):
    was, pictures = furnished_rows, lived_in.pictures()
    assert len(pictures) == 5

    said = lived_in.python(IN_USE, *backup_words("backup"), cwd=tmp_path)

    file = tmp_path / backup_words("backup")[1]
    assert "was read again from end to end" in said
    # SQLite lets one write at a time: what cannot be recorded keeps nobody from a backup.
    assert ("It does not stand on the record" in said) == (connection.vendor == "sqlite")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert {path.name for path in tmp_path.iterdir()} == {"sites", file.name}
    with zipfile.ZipFile(file) as archive:
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert (lived_in.data / "secret").read_bytes() not in everything
    other = a_site()
    said = other.python(AFTER_A_NIGHT, *backup_words("restore"), cwd=tmp_path)
    assert "Everybody signs in anew." in said
    assert said.splitlines()[-1] == str(connection.vendor == "sqlite")
    assert but_for_the_record(other.rows()) == but_for_the_record(was)
    assert other.pictures() == pictures
    assert other.last_acts() == [f"taken.restored by nobody of {file.name}"] * len(was)
    assert [site.python(PROVEN).splitlines()[-1] for site in (lived_in, other)] == ["1", "0"]


def test_a_site_comes_back_into_no_site_that_is_in_use(lived_in, tmp_path):
    lived_in.python(BACKUP, str(tmp_path / "b.zip"))
    was = lived_in.rows()

    assert lived_in.last_acts() == ["taken.backup by nobody of b.zip"] * len(was)
    restored, backed_up = lived_in.python(BOTH_REFUSED, str(tmp_path / "b.zip")).splitlines()
    assert "on record here" in restored
    assert "is there already" in backed_up
    assert lived_in.rows() == was


BACK_UP = """
from pathlib import Path; from django.conf import settings; from django.utils import timezone
from fleet.exchange.queries.site_out import back_up
back_up(to=Path(settings.DATA_DIR) / 'backup.zip', at=timezone.now())
"""
AFTER_BACKUP = """
from pathlib import Path; from django.conf import settings
from fleet.exchange.queries.backups import looked_through
file = Path(settings.DATA_DIR) / 'backup.zip'
if file.exists():
    looked_through(file)
print('whole' if file.exists() else 'none')
file.unlink(missing_ok=True)
"""


def test_a_backup_killed_at_any_step_leaves_none_or_a_whole_one(lived_in):
    left = lived_in.killed_at_each_step(BACK_UP, after=AFTER_BACKUP)

    assert len(left) > 8
    assert left == sorted(left)
    assert (left[0], left[-1]) == ("none", "whole")
    assert not list(lived_in.data.glob(".*.part"))


RESTORE = """
from pathlib import Path; from django.conf import settings
from fleet.exchange.actions.site_in import restore
restore(file=Path(settings.DATA_DIR) / 'backup.zip')
"""
# Says how many are on record; a database that came whole is emptied for the next kill.
AFTER_RESTORE = """
from pathlib import Path; from django.conf import settings; from django.db import connection
from fleet.people.models import School, User
there = School._meta.db_table in connection.introspection.table_names()
many = School.objects.count() + User.objects.count() if there else 0
print(many)
if many and not done and connection.vendor == 'postgresql':
    with connection.cursor() as cursor:
        for name in connection.introspection.table_names():
            cursor.execute(f'DROP TABLE IF EXISTS "{name}" CASCADE')
elif many and not done:
    connection.close()
    for path in Path(settings.DATA_DIR).glob('horns.sqlite3*'):
        path.unlink()
"""


def test_a_restore_killed_at_any_step_leaves_all_or_nothing_and_can_be_done_again(lived_in, furnished_rows, a_site):
    other = a_site()
    lived_in.python(BACKUP, str(other.data / "backup.zip"))

    left = other.killed_at_each_step(RESTORE, after=AFTER_RESTORE)

    assert len(left) >= 10
    assert left[0] == "0"
    assert set(left) == {"0", left[-1]}
    assert but_for_the_record(other.rows()) == but_for_the_record(furnished_rows)
    assert other.pictures() == lived_in.pictures()
    assert not list(other.data.rglob(".*.part"))


# No file may become longer than this, as on a disk that is full: in the copy of the database, or in the second picture.
FULL_DISK = BEGIN + (
    "import os, resource; from pathlib import Path; from django.core.management import CommandError\n"
    "from django.core.files.storage import default_storage\n"
    "Path(default_storage.path('horns')).mkdir(parents=True, exist_ok=True)\n"
    "for name in 'ab': Path(default_storage.path(f'horns/{name}.jpg')).write_bytes(os.urandom(4_000_000))\n"
    "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))\n"
    "try: call('backup', sys.argv[2])\n"
    "except CommandError as no: print(no)\n"
)


@pytest.mark.skipif(os.name == "nt", reason="Windows knows no such bound")
@pytest.mark.parametrize("many", [50_000, 6_000_000])
def test_a_disk_that_is_full_is_said_in_a_sentence_and_leaves_nothing(lived_in, many):
    said = lived_in.python(FULL_DISK, str(many), str(lived_in.data / "backup.zip"))

    assert "cannot be written" in said
    assert {path.name for path in lived_in.data.iterdir()} <= {"secret", "pictures", "horns.sqlite3"}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL looks after its own files")
@pytest.mark.parametrize("place", [0, 40 * 4096])
def test_a_database_that_is_damaged_is_not_taken_for_a_backup(lived_in, tmp_path, place):
    file = lived_in.data / "horns.sqlite3"
    with file.open("r+b") as database:
        database.seek(place)
        database.write(b"\xff" * 4096)

    said = lived_in.python(BEGIN + DAMAGED, str(tmp_path / "backup.zip"))

    assert "The database is damaged." in said
    assert [path.name for path in tmp_path.iterdir()] == ["sites"]


DAMAGED = (
    "from pathlib import Path; from django.utils import timezone; from fleet.ground.refusal import Refused\n"
    "from fleet.exchange.queries.site_out import back_up\n"
    "try: back_up(to=Path(sys.argv[1]), at=timezone.now())\n"
    "except Refused as no: print(no)\n"
)


def made_backup(folder: Path) -> Path:
    back_up(to=folder / "backup.zip", at=make.NOW)
    return folder / "backup.zip"


def forged(file: Path, **changed: object) -> Path:
    other = file.with_name("forged.zip")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(other, "w") as new:
        facts = {**json.loads(old.read("contents.json")), **changed}
        for name in old.namelist():
            new.writestr(name, json.dumps(facts) if name == "contents.json" else old.read(name))
    return other


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"format": 2}, "newer version"),
        ({"migrations": [["people", "9999_of_the_year_after_next"]]}, "newer version"),
        ({"sha256": {}}, "damaged"),
        ({"migrations": None}, "damaged"),
        ({"engine": "oracle"}, "damaged"),
    ],
)
def test_a_backup_that_is_forged_or_of_a_newer_version_is_refused(tmp_path, changed, sentence):
    file = made_backup(tmp_path)
    looked_through(file)

    with pytest.raises(Refused, match=sentence):
        restore(file=forged(file, **changed))


@pytest.mark.parametrize("at", [0.1, 0.5, 0.9])
def test_a_backup_with_one_wrong_byte_or_cut_off_is_refused(tmp_path, at):
    default_storage.save("horns/2026/x.jpg", ContentFile(b"a picture" * 5_000))
    file = made_backup(tmp_path)
    whole = file.read_bytes()
    place = int(len(whole) * at)
    default_storage.delete("horns/2026/x.jpg")

    for bytes_ in (whole[:place], whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :]):
        file.write_bytes(bytes_)
        with pytest.raises(Refused, match="damaged"):
            restore(file=file)
    assert not default_storage.exists("horns/2026/x.jpg")


def test_a_picture_of_a_backup_never_lies_elsewhere(tmp_path):
    file = made_backup(tmp_path)
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr("pictures/../secret", b"x")
        facts = json.loads(archive.read("contents.json"))
    sums = {**facts["sha256"], "pictures/../secret": hashlib.sha256(b"x").hexdigest()}

    with pytest.raises(Refused, match="damaged"):
        restore(file=forged(file, sha256=sums))


def test_a_picture_that_is_there_with_other_content_stays_and_nothing_comes(tmp_path):
    default_storage.save("horns/2026/x.jpg", ContentFile(b"as it was"))
    file = made_backup(tmp_path)
    Path(default_storage.path("horns/2026/x.jpg")).write_bytes(b"another")

    with pytest.raises(Refused, match="another picture"):
        restore(file=file)
    assert Path(default_storage.path("horns/2026/x.jpg")).read_bytes() == b"another"


def test_a_backup_of_one_engine_is_refused_by_the_other(tmp_path):
    file = made_backup(tmp_path)
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    renamed = tmp_path / "other.zip"
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(renamed, "w") as new:
        facts = json.loads(old.read("contents.json"))
        facts |= {"engine": other, "sha256": {DATABASE[other]: facts["sha256"][DATABASE[connection.vendor]]}}
        new.writestr(DATABASE[other], old.read(DATABASE[connection.vendor]))
        new.writestr("contents.json", json.dumps(facts))

    with pytest.raises(Refused, match="export_school and import_school"):
        restore(file=renamed)


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite needs no program")
def test_without_the_programs_of_postgresql_it_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))

    with pytest.raises(CommandError, match="pg_dump is not found"):
        call_command("backup", str(tmp_path / "backup.zip"))
    assert list(tmp_path.iterdir()) == []
