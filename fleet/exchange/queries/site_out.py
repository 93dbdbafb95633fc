"""The whole site as one file, while it runs: the database as it stands at one moment, and the pictures."""

from __future__ import annotations

import errno
import json
import os
import shutil
import sqlite3
import subprocess
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import IO, cast

from django.core.files.storage import default_storage
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from fleet.exchange.queries.backups import CONTENTS, DATABASE, FORMAT, LEFT_OUT, PICTURES, looked_through
from fleet.exchange.queries.packing import put
from fleet.ground.files.folder import DRAFT, all_kept
from fleet.ground.refusal import Refused

NOT_WHOLE = "The database is damaged. Restore the newest backup that is whole."


def back_up(*, to: Path, at: datetime, say: Callable[[str], None] = lambda words: None) -> None:
    """Writes the backup and looks it through. A file half written or damaged never stands under the name.

    The database comes first, so that each picture its rows name was there; one removed meanwhile is not in it.
    Raises Refused where the database cannot be copied, OSError where the disk cannot take it.
    """
    draft = to.with_name(f".{to.name}.part")
    sums: dict[str, str] = {}
    try:
        with zipfile.ZipFile(draft, "w") as archive:
            part = DATABASE[connection.vendor]
            sums[part] = (_sqlite_out if connection.vendor == "sqlite" else _postgres_out)(archive, part, to)
            say(f"database: {archive.getinfo(part).file_size // 1024} kB")
            _pictures_out(archive, sums)
            say(f"pictures: {len(sums) - 1}")
            migrations = sorted(MigrationRecorder(connection).applied_migrations())
            facts = {"format": FORMAT, "engine": connection.vendor, "at": at.isoformat(), "migrations": migrations}
            put_in = json.dumps({**facts, "sha256": sums}, indent=1, sort_keys=True)
            archive.writestr(CONTENTS, put_in)
        looked_through(draft)
        with draft.open("rb") as whole:
            os.fsync(whole.fileno())
        draft.replace(to)
    finally:
        draft.unlink(missing_ok=True)


def _sqlite_out(archive: zipfile.ZipFile, part: str, to: Path) -> str:
    """By SQLite's own way to copy a database in use; what is not folded in yet comes along."""
    copied = to.with_name(f".{to.name}.sqlite3.part")
    _gone(copied)
    try:
        # Beside the site's own connection: from one that is writing, SQLite copies nothing.
        name = connection.settings_dict["NAME"]
        with closing(sqlite3.connect(name)) as site, closing(sqlite3.connect(copied)) as copy:
            site.backup(copy)
            copy.executescript("PRAGMA journal_mode=DELETE; PRAGMA secure_delete=ON;")
            there = {name for (name,) in copy.execute("SELECT name FROM sqlite_master")}
            for table in there.intersection(LEFT_OUT):
                copy.execute(f"DELETE FROM {table}")  # noqa: S608
            copy.commit()
            if copy.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                raise Refused(NOT_WHOLE)
        with copied.open("rb") as database:
            return put(archive, part, database, packed=True)
    except sqlite3.OperationalError as trouble:
        raise OSError(errno.EIO, str(trouble)) from trouble
    except sqlite3.DatabaseError as trouble:
        raise Refused(NOT_WHOLE) from trouble
    finally:
        _gone(copied)


def _gone(copied: Path) -> None:
    """With the journal that SQLite leaves beside it where the disk is full."""
    for name in (copied.name, f"{copied.name}-journal"):
        copied.with_name(name).unlink(missing_ok=True)


def _postgres_out(archive: zipfile.ZipFile, part: str, to: Path) -> str:
    words = ["--format=custom", "--no-owner", "--no-privileges", "--no-comments"]
    words += [f"--exclude-table-data={table}" for table in LEFT_OUT]
    with asked("pg_dump", words, stdout=subprocess.PIPE) as dumping:
        total = put(archive, part, cast(IO[bytes], dumping.stdout))
        answered(dumping)
    return total


def asked(
    program: str, words: list[str], *, stdin: int | None = None, stdout: int | None = None
) -> subprocess.Popen[bytes]:
    """One of PostgreSQL's own programs, started on this site's database. Raises Refused where it is not found."""
    found = shutil.which(program)
    if found is None:
        raise Refused(
            f"{program} is not found. It is one of PostgreSQL's client programs: install those of the server's version."
        )
    command, more = connection.client.settings_to_cmd_args_env(connection.settings_dict, words)
    given = {**os.environ, **(more or {})}
    return subprocess.Popen(  # noqa: S603
        [found, *command[1:]], env=given, stdin=stdin, stdout=stdout, stderr=subprocess.PIPE
    )


def answered(program: subprocess.Popen[bytes]) -> None:
    """Waits for the end of it. Raises Refused with what it said when it failed."""
    said = cast(IO[bytes], program.stderr).read().decode("utf-8", "replace").strip()
    if program.wait():
        raise Refused(f"PostgreSQL's program did not do it. {said.partition(chr(10))[0]}")


def _pictures_out(archive: zipfile.ZipFile, sums: dict[str, str]) -> None:
    for name in sorted(all_kept()):
        if name.endswith(DRAFT):
            continue
        try:
            picture = default_storage.open(name)
        except FileNotFoundError:
            continue
        with picture:
            sums[f"{PICTURES}{name}"] = put(archive, f"{PICTURES}{name}", cast(IO[bytes], picture.file))
