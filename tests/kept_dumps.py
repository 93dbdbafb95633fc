"""Databases of versions that were, kept to bring them to today's: `fixtures/<day>.sqlite3.xz` and `.postgresql.sql.xz`.

Each holds the demo school beside a school with a row in every table, all invented, as that day's code made them on
either engine. `python -m tests.kept_dumps 2027-01-31` keeps today's; with a release LAST_RELEASE becomes its day, and
older ones may go. (That of 2026-11-25 is commit 46c174d and holds the demo school alone.)
"""

from __future__ import annotations

import lzma
import os
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit
from uuid import uuid4

ROOT = Path(__file__).resolve().parent.parent
FIXTURES = ROOT / "tests/fixtures"
LAST_RELEASE = "2026-11-25"
SQLITE, POSTGRESQL = ".sqlite3.xz", ".postgresql.sql.xz"


def days() -> list[str]:
    return sorted(path.name.removesuffix(SQLITE) for path in FIXTURES.glob(f"*{SQLITE}"))


def unpacked(day: str, engine: str) -> bytes:
    return lzma.decompress((FIXTURES / f"{day}{engine}").read_bytes())


def applied_in(day: str) -> set[tuple[str, str]]:
    """The migrations that a kept database had: (app, name)."""
    with closing(sqlite3.connect(":memory:")) as database:
        kept = unpacked(day, SQLITE)
        # Read from memory a database cannot have a journal beside it, as its head says it has.
        database.deserialize(kept[:18] + b"\x01\x01" + kept[20:])
        return set(database.execute("SELECT app, name FROM django_migrations"))


def fill() -> None:
    """Makes the schools in the empty database of the settings."""
    import django

    django.setup()
    from django.core.management import call_command

    from tests.exchange.whole import furnish

    call_command("migrate", verbosity=0)
    call_command("demo")
    furnish()


def _filled(address: str, folder: str) -> None:
    given = {"DATABASE_URL": address, "HORN_DATA": folder, "DJANGO_SETTINGS_MODULE": "fleet.settings"}
    words = [sys.executable, "-X", "utf8", "-m", "tests.kept_dumps"]
    subprocess.run(words, cwd=ROOT, env={**os.environ, **given}, check=True)


def of_sqlite() -> bytes:
    with tempfile.TemporaryDirectory(prefix="horn-dump-") as folder:
        path, copy = Path(folder) / "horns.sqlite3", Path(folder) / "kept.sqlite3"
        _filled(f"sqlite:///{path.as_posix()}", folder)
        with closing(sqlite3.connect(path)) as database:
            database.execute("VACUUM INTO ?", [str(copy)])
        return copy.read_bytes()


def of_postgresql() -> bytes:
    """On the server of HORN_TEST_POSTGRES, the address of a database beside which another may be made."""
    import psycopg

    server, name = os.environ["HORN_TEST_POSTGRES"], f"dump_{uuid4().hex}"
    address = urlsplit(server)._replace(path=f"/{name}").geturl()
    plain = server.replace("postgres://", "postgresql://", 1)
    with psycopg.connect(plain, autocommit=True) as beside:
        beside.execute(f'CREATE DATABASE "{name}" TEMPLATE template0')
    try:
        with tempfile.TemporaryDirectory(prefix="horn-dump-") as folder:
            _filled(address, folder)
        words = ["pg_dump", "--inserts", "--no-owner", "--no-privileges", f"--dbname={address}"]
        return subprocess.run(words, capture_output=True, check=True).stdout
    finally:
        with psycopg.connect(plain, autocommit=True) as beside:
            beside.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def main(arguments: list[str]) -> int:
    if not arguments:
        fill()
        return 0
    for engine, make in ((SQLITE, of_sqlite), (POSTGRESQL, of_postgresql)):
        packed = lzma.compress(make(), preset=9 | lzma.PRESET_EXTREME)
        (FIXTURES / f"{arguments[0]}{engine}").write_bytes(packed)
        sys.stdout.write(f"{arguments[0]}{engine}: {len(packed) // 1024} kB\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
