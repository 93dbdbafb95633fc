"""Columns that are looked up by pieces of text, which models name as `FOUND_BY`: `people_pupil` is the `search` of that
table, `people_pupil.pupil_id` another column.

A piece of fewer than three letters is the beginning of a word, so that with the spaces before it there are three, too.
SQLite keeps them in an FTS5 table with the trigram tokenizer, which triggers fill, with two spaces before each word, as
PostgreSQL does by itself in a GIN index. A row's key there stands behind its school's: so the rows of other schools are
passed by, however many have the same words.
"""

# The statements below are put together from names of our tables, never from what people type.
# ruff: noqa: S608

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

from django.apps import apps
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Q, QuerySet
from django.db.models.expressions import RawSQL

if TYPE_CHECKING:
    from fleet.people.models.schools import School

Rows = TypeVar("Rows", bound=QuerySet[Any])

SHORTEST = 3
_EVENTS = ("added", "changed", "removed")
PUPILS, GUARDIANS, IDS = "people_pupil", "people_guardian", "people_pupil.pupil_id"
# The part of a key of the trigrams that is the row's own.
BEHIND = (1 << 32) - 1


def found_by() -> list[str]:
    """Every column of the site that is looked up so."""
    return [
        model._meta.db_table if column == "search" else f"{model._meta.db_table}.{column}"
        for model in apps.get_models()
        for column in getattr(model, "FOUND_BY", ())
    ]


def trigrams_of(column: str) -> str:
    """What holds its trigrams."""
    return f"{column.replace('.', '_')}_search"


class LookUp(NamedTuple):
    """On SQLite, where rows of one school are found by pieces of text: the keys of those that are, on a condition."""

    key: str
    name: str
    where: str
    given: list[Any]


def having(word: str, column: str = "search", *, begins: bool = False) -> Q:
    """That the column at the end of a way holds this word of `words_of`, a short one at the beginning of a word of its;
    `begins`: that it begins with it."""
    # What is searched in is folded as the word is.
    alike = "" if column.endswith("search") else "i"
    if begins:
        return Q(**{f"{column}__{alike}startswith": word})
    if len(word) < SHORTEST:
        return Q(**{f"{column}__{alike}startswith": word}) | Q(**{f"{column}__{alike}contains": f" {word}"})
    return Q(**{f"{column}__{alike}contains": word})


def look_up(column: str, words: Sequence[str], school: School, *, joint: str = "AND", begins: bool = False) -> LookUp:
    """By every one of these pieces of text, or with `OR` any; `begins`: with which the column begins."""
    name, first = trigrams_of(column), school.pk << 32
    said = f" {joint} ".join(_piece(word, begins=begins) for word in words)
    where = f"{name} MATCH %s AND {name}.rowid BETWEEN %s AND %s"
    return LookUp(f"{name}.rowid & {BEHIND}", name, where, [said, first, first | BEHIND])


def _piece(word: str, *, begins: bool) -> str:
    spaced = f"  {word}" if begins else word.rjust(SHORTEST)
    return ("^" if begins else "") + '"' + spaced.replace('"', '""') + '"'


def looked_up(
    rows: Rows, column: str, words: Sequence[str], school: School, *, way: str = "", begins: bool = False
) -> Rows:
    """Those of these rows of a school `having` every one of these words in the column, or at the end of whose way a row
    does. To be limited: the index then gives no more than are wanted, while of `IN (…)` SQLite lists every one first.
    """
    if connection.vendor == "sqlite":
        found = look_up(column, words, school, begins=begins)
        found_there = rows.extra(tables=[found.name], where=[found.where], params=found.given)  # noqa: S610
        return cast("Rows", found_there.filter(**{way or "pk": RawSQL(found.key, ())}))  # noqa: S611 - our tables
    to, name = f"{way}__" if way else "", _table_and_column(column)[1]
    return rows.filter(*(having(word, f"{to}{name}", begins=begins) for word in words), **{f"{to}school": school})


def make_trigrams(connection: BaseDatabaseWrapper, *columns: str) -> None:
    """Make the table with its triggers, or the index, of each, and fill it."""
    statements = _sqlite if connection.vendor == "sqlite" else _postgresql
    with connection.cursor() as cursor:
        for one in columns:
            for statement in statements(*_table_and_column(one), trigrams_of(one)):
                cursor.execute(statement)


def keep_trigrams(*, using: str, **_: Any) -> None:
    """Make them again where they are gone, or as an earlier version made them.

    On SQLite a later migration may remake a table, and a table takes its triggers with it.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    for one in found_by():
        name = trigrams_of(one)
        parts = [name, *(f"{name}_{event}" for event in _EVENTS)]
        with connection.cursor() as cursor:
            cursor.execute("SELECT sql FROM sqlite_master WHERE name IN (%s, %s, %s, %s)", parts)
            made = {sql for (sql,) in cursor.fetchall()}
        if made and made != {sql for sql in _sqlite(*_table_and_column(one), name) if sql.startswith("CREATE")}:
            make_trigrams(connection, one)


def _table_and_column(column: str) -> tuple[str, str]:
    table, _, named = column.partition(".")
    return table, named or "search"


def _sqlite(table: str, column: str, name: str) -> tuple[str, ...]:
    # What the version before writes may be of no school for a night (`Letter.school`).
    key = "coalesce({0}school_id, 0) << 32 | {0}id"
    words = f"'  ' || replace({{0}}{column}, ' ', '  ')"
    new = f"INSERT INTO {name}(rowid, search) VALUES ({key.format('new.')}, {words.format('new.')})"
    old = f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', {key.format('old.')}, {words.format('old.')})"
    return (
        # The version before kept a list of all trigrams there are.
        f"DROP TABLE IF EXISTS {name}_terms",
        f"DROP TABLE IF EXISTS {name}",
        *(f"DROP TRIGGER IF EXISTS {name}_{event}" for event in _EVENTS),
        f"CREATE VIRTUAL TABLE {name} USING fts5(search, content='', tokenize='trigram', detail='full')",
        f"CREATE TRIGGER {name}_added AFTER INSERT ON {table} BEGIN {new}; END",
        f"CREATE TRIGGER {name}_changed AFTER UPDATE OF school_id, {column} ON {table} "
        f"WHEN old.{column} <> new.{column} OR old.school_id IS NOT new.school_id BEGIN {old}; {new}; END",
        f"CREATE TRIGGER {name}_removed AFTER DELETE ON {table} BEGIN {old}; END",
        f"INSERT INTO {name}(rowid, search) SELECT {key.format('')}, {words.format('')} FROM {table} ORDER BY 1",
    )


def _postgresql(table: str, column: str, name: str) -> tuple[str, ...]:
    # A search is kept without case; in other columns `icontains` looks for great letters.
    within = column if column == "search" else f"upper({column}::text)"
    return (
        "CREATE EXTENSION IF NOT EXISTS pg_trgm",
        f"CREATE INDEX IF NOT EXISTS {name} ON {table} USING gin ({within} gin_trgm_ops)",
    )
