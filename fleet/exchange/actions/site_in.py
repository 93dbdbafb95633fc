"""A whole site from the file `site_out` wrote, into an empty one: all of it or nothing, whenever it is cut off.

Pictures come first, each whole or not at all; without rows they are nobody's, so the site is as empty as before. Then
the database comes in one transaction of its engine.
"""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import subprocess
import zipfile
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from typing import IO, cast

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import connection

from fleet.exchange.queries.backups import DAMAGED, DATABASE, LEFT_OUT, PICTURES, Backup, looked_through
from fleet.exchange.queries.packing import PIECE
from fleet.exchange.queries.site_out import answered, asked
from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.people.models.trigrams import found_by, trigrams_of

# Tables that Django makes without a model.
NO_MODELS = ("django_migrations", *LEFT_OUT)
# Where SQLite notes how many rows its tables have.
OF_SQLITE = "sqlite_"


def restore(*, file: Path, say: Callable[[str], None] = lambda words: None) -> Backup:
    """Brings the backup in. Raises Refused when the site is not empty, or the file is damaged or of a newer version."""
    there = _tables_of_the_empty_site()
    backup = looked_through(file)
    if backup.engine != connection.vendor:
        raise Refused(
            f"This backup is of a site on {backup.engine}, and this one runs on {connection.vendor}. "
            "export_school and import_school carry a school from one to the other."
        )
    kept: list[str] = []
    try:
        with zipfile.ZipFile(file) as archive:
            _pictures_in(archive, backup, kept)
            say(f"pictures: {len(backup.pictures)}")
            (_sqlite_in if connection.vendor == "sqlite" else _postgres_in)(archive, there)
            say("database: whole")
    except BaseException as trouble:
        # Told to stop when the database had taken everything: the pictures belong to it now, and it is whole.
        if isinstance(trouble, KeyboardInterrupt) and _is_lived_in(connection.introspection.table_names()):
            return backup
        for name in kept:
            default_storage.delete(name)
        raise
    return backup


def _is_lived_in(there: list[str]) -> bool:
    return any(model._meta.db_table in there and model._base_manager.exists() for model in (School, User))


def _tables_of_the_empty_site() -> list[str]:
    there = connection.introspection.table_names()
    known = {*connection.introspection.django_table_names(), *NO_MODELS}
    if _is_lived_in(there):
        raise Refused(
            "There are schools or people on record here. A backup comes into an empty site only: move the data "
            "folder away, or name another folder and database."
        )
    of_search = (*map(trigrams_of, found_by()), OF_SQLITE)
    if strange := [name for name in there if name not in known and not name.startswith(of_search)]:
        raise Refused(f"The database holds the table {strange[0]}, which is not this site's. Name an empty database.")
    return there


def _pictures_in(archive: zipfile.ZipFile, backup: Backup, kept: list[str]) -> None:
    missing = []
    for name, total in backup.pictures.items():
        if not default_storage.exists(name):
            missing.append(name)
        elif _sum_of_file(name) != total:
            raise Refused(f"There is another picture under the name {name} already. Move the pictures away first.")
    for name in missing:
        with archive.open(f"{PICTURES}{name}") as part:
            kept.append(default_storage.save(name, File(part, name=name)))


def _sum_of_file(name: str) -> str:
    total = hashlib.sha256()
    with default_storage.open(name) as file:
        for piece in file.chunks(PIECE):
            total.update(piece)
    return total.hexdigest()


def _sqlite_in(archive: zipfile.ZipFile, there: list[str]) -> None:
    """Over the empty database by SQLite's own way, which is one transaction also where the site is open."""
    draft = Path(settings.DATA_DIR) / ".restored.sqlite3.part"
    try:
        with archive.open(DATABASE["sqlite"]) as part, draft.open("wb") as written:
            shutil.copyfileobj(part, written, PIECE)
        with closing(sqlite3.connect(draft)) as copy:
            if copy.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                raise Refused(DAMAGED)
            connection.ensure_connection()
            copy.backup(connection.connection)
    except sqlite3.DatabaseError as trouble:
        raise Refused(f"The database did not take it: {trouble}.") from trouble
    finally:
        connection.close()
        draft.unlink(missing_ok=True)


def _postgres_in(archive: zipfile.ZipFile, there: list[str]) -> None:
    words = ["--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error", "--dbname"]
    with (
        asked("pg_restore", words, stdin=subprocess.PIPE) as restoring,
        archive.open(DATABASE["postgresql"]) as part,
    ):
        # The tables of an empty site are made again by `prepare`, should the rest fail.
        with connection.cursor() as cursor:
            for table in there:
                cursor.execute(f"DROP TABLE IF EXISTS {connection.ops.quote_name(table)} CASCADE")
        connection.close()
        # Where it gave up early, what it said is the reason.
        try:
            with suppress(BrokenPipeError), cast(IO[bytes], restoring.stdin) as told:
                shutil.copyfileobj(part, told, PIECE)
            answered(restoring)
        finally:
            # Told to stop meanwhile, one waits to see whether it had everything: it ends by itself, all or nothing.
            restoring.wait()
