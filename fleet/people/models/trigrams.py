"""The `search` columns of tables, looked up by any three letters and more.

SQLite keeps them in an FTS5 table with the trigram tokenizer, which triggers fill, PostgreSQL in a GIN index. A row's
key there stands behind its school's: so the rows of other schools are passed by, however many have the same words.
"""

# The statements below are put together from names of our tables, never from what people type.
# ruff: noqa: S608

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import QuerySet

if TYPE_CHECKING:
    from fleet.people.models.schools import School

Rows = TypeVar("Rows", bound=QuerySet[Any])

SHORTEST = 3
PEOPLE = ("people_pupil", "people_guardian")
# The part of a key of the trigrams that is the row's own.
BEHIND = (1 << 32) - 1


def trigrams_of(table: str) -> str:
    return f"{table}_search"


class LookUp(NamedTuple):
    """On SQLite, where rows of one school are found by pieces of text: the keys of those that are, on a condition."""

    key: str
    name: str
    where: str
    given: list[Any]


def look_up(table: str, words: Sequence[str], school: School, joint: str = "AND") -> LookUp:
    """By every one of these pieces of text, or with `OR` any."""
    name, first = trigrams_of(table), school.pk << 32
    said = f" {joint} ".join('"' + word.replace('"', '""') + '"' for word in words)
    where = f"{name} MATCH %s AND {name}.rowid BETWEEN %s AND %s"
    return LookUp(f"{name}.rowid & {BEHIND}", name, where, [said, first, first | BEHIND])


def looked_up(rows: Rows, words: Sequence[str], school: School) -> Rows:
    """On SQLite those of these rows of a school that hold every one of these pieces of text. To be limited: the index
    then gives no more than are wanted, while of `IN (…)` it lists every one first."""
    table = rows.model._meta.db_table
    found = look_up(table, words, school)
    where = [f"{table}.id = {found.key}", found.where]
    return cast("Rows", rows.extra(tables=[found.name], where=where, params=found.given))  # noqa: S610


def make_trigrams(connection: BaseDatabaseWrapper, *tables: str) -> None:
    """Make the table with its triggers, or the index, of each, and fill it."""
    with connection.cursor() as cursor:
        for table in tables:
            for statement in (_sqlite if connection.vendor == "sqlite" else _postgresql)(table, trigrams_of(table)):
                cursor.execute(statement)


def keep_trigrams(using: str, *tables: str) -> None:
    """Make them again where they are gone, or as an earlier version made them.

    On SQLite a later migration may remake a table, and a table takes its triggers with it.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    for table in tables:
        name = trigrams_of(table)
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM sqlite_master WHERE tbl_name = %s AND type = 'trigger'", [table])
            (triggers,) = cursor.fetchone()
            cursor.execute("SELECT sql FROM sqlite_master WHERE name = %s", [name])
            made_by = cursor.fetchone()
        if made_by and (triggers < 3 or made_by[0] != _made_by(name)):
            make_trigrams(connection, table)


def _made_by(name: str) -> str:
    return f"CREATE VIRTUAL TABLE {name} USING fts5(search, content='', tokenize='trigram', detail='full')"


def _sqlite(table: str, name: str) -> tuple[str, ...]:
    new, old = "new.school_id << 32 | new.id", "old.school_id << 32 | old.id"
    return (
        f"DROP TABLE IF EXISTS {name}",
        *(f"DROP TRIGGER IF EXISTS {name}_{event}" for event in ("added", "changed", "removed")),
        _made_by(name),
        f"CREATE TRIGGER {name}_added AFTER INSERT ON {table} BEGIN "
        f"INSERT INTO {name}(rowid, search) VALUES ({new}, new.search); END",
        f"CREATE TRIGGER {name}_changed AFTER UPDATE OF search ON {table} "
        "WHEN old.search <> new.search BEGIN "
        f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', {old}, old.search); "
        f"INSERT INTO {name}(rowid, search) VALUES ({new}, new.search); END",
        f"CREATE TRIGGER {name}_removed AFTER DELETE ON {table} BEGIN "
        f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', {old}, old.search); END",
        f"INSERT INTO {name}(rowid, search) SELECT school_id << 32 | id, search FROM {table} ORDER BY 1",
    )


def _postgresql(table: str, name: str) -> tuple[str, ...]:
    return (
        "CREATE EXTENSION IF NOT EXISTS pg_trgm",
        f"CREATE INDEX IF NOT EXISTS {name} ON {table} USING gin (search gin_trgm_ops)",
    )
