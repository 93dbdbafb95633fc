"""A database of a version that was becomes today's, and keeps everything that stood in it: those of kept_dumps.

Run while the code of that version still serves, so that it must be able to write afterwards as it did before.
"""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import uuid4

import psycopg
import pytest
from django.db import connection

from tests.exchange.sites import BEGIN, own_environment, own_sites
from tests.kept_dumps import POSTGRESQL, ROOT, SQLITE, days, unpacked

# Written by the migrations themselves, or made again after them.
NOT_DATA = re.compile(r"django_migrations|sqlite_\w+|auth_permission|django_content_type|\w+_search(_\w+)?")
# Columns that may change their value or go, by table: each with its reason.
CHANGED: dict[str, set[str]] = {
    # What a search finds a horn by: made from the other columns, with its class and place since register 0013.
    "register_horn": {"search"},
    # Letters nobody had changed begin with a capital after the greeting, since loans 0017.
    "loans_lendingrules": {"before_words", "after_words", "recall_words", "sign_words"},
    # That the school was taken out, to read all its rows, is on its record.
    "record_chain": {"number", "seal"},
}
# Tables that have another name today, or are gone (""): each with its reason.
RENAMED: dict[str, str] = {}

Rows = dict[str, dict[Any, dict[str, Any]]]


class Before:
    """One database of an earlier version: its address for the site, all its rows by table and key, and by table which
    columns whoever writes a row has to give."""

    def __init__(self, address: str, connect: Any, tables: str, needed: str) -> None:
        self.address, self.connect, self.tables, self._needed = address, connect, tables, needed

    def needed(self) -> set[tuple[str, str]]:
        with closing(self.connect()) as database:
            return {(table, column) for table, column in database.execute(self._needed).fetchall()}

    def rows(self) -> Rows:
        found: Rows = {}
        with closing(self.connect()) as database:
            for (table,) in database.execute(self.tables).fetchall():
                if NOT_DATA.fullmatch(table):
                    continue
                cursor = database.execute(f'SELECT * FROM "{table}"')  # noqa: S608
                columns = [column[0] for column in cursor.description]
                key = columns.index("id") if "id" in columns else 0
                found[table] = {row[key]: dict(zip(columns, row, strict=True)) for row in cursor.fetchall()}
        return found


NEEDED_ON_SQLITE = """SELECT m.name, c.name FROM sqlite_master m, pragma_table_xinfo(m.name) c
    WHERE m.type = 'table' AND c."notnull" AND c.dflt_value IS NULL AND c.hidden = 0 AND c.pk = 0"""
NEEDED_ON_POSTGRESQL = """SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = 'public'
    AND is_nullable = 'NO' AND column_default IS NULL AND is_identity = 'NO' AND is_generated = 'NEVER'"""


@pytest.fixture(params=days())
def before(request: pytest.FixtureRequest, tmp_path: Path, db: None) -> Iterator[Before]:
    if connection.vendor == "sqlite":
        path = tmp_path / "horns.sqlite3"
        path.write_bytes(unpacked(request.param, SQLITE))
        tables = "SELECT name FROM sqlite_master WHERE type = 'table'"
        yield Before(f"sqlite:///{path.as_posix()}", lambda: sqlite3.connect(path), tables, NEEDED_ON_SQLITE)
        return
    to = {key: value for key, value in connection.get_connection_params().items() if key in {"host", "port", "user"}}
    to |= {"password": connection.settings_dict["PASSWORD"] or None, "autocommit": True}
    name = f"before_{uuid4().hex}"
    with psycopg.connect(dbname=connection.settings_dict["NAME"], **to) as server:
        server.execute(f'CREATE DATABASE "{name}" TEMPLATE template0')
    try:
        sql = unpacked(request.param, POSTGRESQL).decode()
        with psycopg.connect(dbname=name, **to) as database:
            database.execute("\n".join(line for line in sql.splitlines() if not line.startswith("\\")))
        said = {key: quote(str(value or ""), safe="") for key, value in connection.settings_dict.items()}
        who = f"{said['USER']}:{said['PASSWORD']}@" if said["USER"] else ""
        address = f"postgres://{who}{said['HOST']}{said['PORT'] and ':'}{said['PORT']}/{name}"
        tables = "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
        yield Before(address, lambda: psycopg.connect(dbname=name, **to), tables, NEEDED_ON_POSTGRESQL)
    finally:
        with psycopg.connect(dbname=connection.settings_dict["NAME"], **to) as server:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


UPGRADED = BEGIN + (
    # A fifth of the time goes to looking for what may be thrown away, of models made anew at each step.
    "import gc; gc.disable()\n"
    "_, school, to = sys.argv\n"
    "from fleet.workshop.models import RepairJob\n"
    "call('migrate', verbosity=0); call('migrate', plan=True)\n"
    # As `prepare` does, which also makes a table that is no model's.
    "from fleet.desk.actions.tidying import keep_in_turn\n"
    "keep_in_turn(jobs=RepairJob.objects.open().filter(turn=None))\n"
    # What is kept on the horns agrees with the rows, and every row can be read by today's models.
    "call('reconcile'); call('export_school', school, to)\n"
    "from fleet.lending.models import Loan, Wish\n"
    "from django.db.models import F\n"
    "for rows in (Loan.objects, RepairJob.objects):\n"
    "    assert rows.exists() and not rows.exclude(school=F('horn__school')).exists()\n"
    "assert not Wish.objects.exclude(school=F('pupil__school')).exists()\n"
    "from fleet.letters.models import Letter\n"
    "from fleet.workshop.models import Finding\n"
    "assert not Finding.objects.exclude(school=F('check_made__horn__school')).exists()\n"
    "assert not Letter.objects.exclude(school=F('guardian__school')).exists()\n"
)


def upgraded(before: Before, school: str, data: Path) -> str:
    """Today's site starts on that database, says what it would still do, and reads all rows of that school."""
    given = own_environment(
        data, PYTHONPATH=str(ROOT), DJANGO_SETTINGS_MODULE="fleet.settings", DATABASE_URL=before.address
    )
    command = [sys.executable, "-X", "utf8", "-c", UPGRADED, school, str(data / "school.zip")]
    done = subprocess.run(command, env=given, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (data / "school.zip").stat().st_size > 10_000
    return done.stdout


TABLES_ON_SQLITE = "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"
TABLES_ON_POSTGRESQL = """SELECT table_name || '.' || column_name, concat_ws(' ', data_type, character_maximum_length,
    numeric_precision, numeric_scale, is_nullable, column_default, is_identity, generation_expression, collation_name)
    FROM information_schema.columns WHERE table_schema = 'public'
    UNION ALL SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
    UNION ALL SELECT conrelid::regclass || ' ' || conname, pg_get_constraintdef(oid) FROM pg_constraint
    WHERE connamespace = 'public'::regnamespace"""


def in_pieces(sql: str) -> list[str]:
    """What stands between the outermost commas, sorted, since SQLite keeps a column that came later at the end."""
    depth, pieces = 0, [""]
    for letter in sql.partition("(")[2].rpartition(")")[0]:
        depth += (letter == "(") - (letter == ")")
        if letter == "," and depth == 0:
            pieces.append("")
        else:
            pieces[-1] += letter
    return [sql.partition("(")[0], *sorted(piece.strip() for piece in pieces)]


# Where PostgreSQL reads its own words again, it writes the same types at other places.
TYPES = re.compile(r"::(?:character varying|text)|\[\]|[()]")


def made_of(database: Any) -> dict[str, Any]:
    """Tables, columns, indexes and constraints by name, with what they are."""
    on_sqlite = connection.vendor == "sqlite"
    found = database.execute(TABLES_ON_SQLITE if on_sqlite else TABLES_ON_POSTGRESQL).fetchall()
    # Django's own steps make this key, of a table that holds no row here, larger than Django's own model says.
    return {
        name: in_pieces(sql) if on_sqlite else TYPES.sub("", sql)
        for name, sql in found
        if name != "auth_group_permissions.id"
    }


def test_a_database_of_an_earlier_version_becomes_todays_and_keeps_its_rows(before, tmp_path):
    was, needed_then = before.rows(), before.needed()
    assert ("register_horn", "number") in needed_then
    assert len(was["register_horn"]) > 10
    assert len(was["loans_loan"]) > 3

    said = upgraded(before, next(iter(was["people_school"].values()))["slug"], tmp_path)

    assert "No planned migration" in said
    now = before.rows()
    lost = []
    for table, rows in was.items():
        today = RENAMED.get(table, table)
        if not today:
            continue
        if today not in now:
            lost.append(f"the table {table}")
            continue
        allowed = CHANGED.get(table, set())
        for key, row in rows.items():
            left = now[today].get(key)
            if left is None:
                lost.append(f"{table} {key}")
                continue
            lost += [
                f"{table} {key}: {column} was {value!r}, is {left.get(column)!r}"
                for column, value in row.items()
                if column not in allowed and (column not in left or left[column] != value)
            ]
    assert not lost, "\n".join(lost)
    # The old code gives what it had to give, and knows no column that came since.
    assert sorted(one for one in before.needed() - needed_then if one[0] in was) == []

    # The test's own database was made at once: by its steps one comes to the same tables.
    connection.ensure_connection()
    at_once = made_of(connection.connection)
    with closing(before.connect()) as database:
        step_by_step = made_of(database)
    assert len(at_once) > 200
    assert at_once == step_by_step


ASKED_OTHERWISE = BEGIN + (
    "from django.db import connection\n"
    "def tables(): print(sorted(connection.introspection.table_names()))\n"
    "call('migrate', plan=True, verbosity=0); tables()\n"
    "try: call('migrate', check_unapplied=True, verbosity=0)\n"
    "except SystemExit as no: print(no.code); tables()\n"
    "call('migrate', 'contenttypes', verbosity=0); tables()\n"
)


def test_whoever_asks_for_one_step_or_none_of_a_new_database_has_it_so(db, tmp_path):
    with own_sites(tmp_path) as made:
        said = made().python(ASKED_OTHERWISE).splitlines()

    assert said[-4:] == ["[]", "1", "[]", "['django_content_type', 'django_migrations']"]


def test_every_migration_has_a_name_somebody_thought_of():
    made_up = re.compile(r"\d{4}_(auto_\d+|initial|alter_\w+|remove_\w+|rename_\w+|delete_\w+|\w+_and_more)")
    names = [path for path in sorted((ROOT / "fleet").rglob("migrations/0*.py")) if made_up.fullmatch(path.stem)]
    assert not names
