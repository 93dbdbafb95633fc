"""The `search` columns of tables, looked up by any three letters and more; and others, named as `loans_letter.address`.

SQLite keeps them in an FTS5 table with the trigram tokenizer, which triggers fill, PostgreSQL in a GIN index. A row's
key there stands behind its school's: so the rows of other schools are passed by, however many have the same words.
Two letters SQLite looks up as those of all trigrams there are that begin with them; a space behind the text makes its
last two the beginning of one, too.
"""

# The statements below are put together from names of our tables, never from what people type.
# ruff: noqa: S608

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

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
PEOPLE = (PUPILS, GUARDIANS, IDS)
# The part of a key of the trigrams that is the row's own.
BEHIND = (1 << 32) - 1


def trigrams_of(column: str) -> str:
    """What holds them of `people_pupil`, or of another column than its search."""
    return f"{column.replace('.', '_')}_search"


def _terms_of(name: str) -> str:
    return f"{name}_terms"


class LookUp(NamedTuple):
    """On SQLite, where rows of one school are found by pieces of text: the keys of those that are, on a condition."""

    key: str
    name: str
    where: str
    given: list[Any]


def indexed(word: str) -> bool:
    """Whether it is long enough to be looked up."""
    return len(word) >= (SHORTEST - 1 if connection.vendor == "sqlite" else SHORTEST)


def look_up(column: str, words: Sequence[str], school: School, *, joint: str = "AND", begins: bool = False) -> LookUp:
    """By every one of these pieces of text, or with `OR` any; `begins`: with which the column begins."""
    name, first = trigrams_of(column), school.pk << 32
    pieces = [_piece(name, word, '^"' if begins else '"') for word in words]
    said = f" || ' {joint} ' || ".join(piece for piece, _ in pieces)
    where = f"{name} MATCH {said} AND {name}.rowid BETWEEN %s AND %s"
    given = [one for _, told in pieces for one in told]
    return LookUp(f"{name}.rowid & {BEHIND}", name, where, [*given, first, first | BEHIND])


def _piece(name: str, word: str, opened: str) -> tuple[str, list[str]]:
    if len(word) >= SHORTEST:
        return "%s", [opened + word.replace('"', '""') + '"']
    # From one of them to the next, and past the rows of each.
    after = f"SELECT term FROM {_terms_of(name)} WHERE term >="
    beginning = (
        f"(WITH RECURSIVE begins(term) AS (SELECT ({after} %s LIMIT 1)"
        f" UNION ALL SELECT ({after} begins.term || char(1) LIMIT 1) FROM begins WHERE term < %s)"
        " SELECT '(' || coalesce(group_concat(%s || replace(term, '\"', '\"\"') || '\"', ' OR '), '\"\"') || ')'"
        " FROM begins WHERE term < %s)"
    )
    beyond = word + chr(sys.maxunicode)
    return beginning, [word, beyond, opened, beyond]


def looked_up(
    rows: Rows, column: str, words: Sequence[str], school: School, *, way: str = "", begins: bool = False
) -> Rows:
    """Those of these rows of a school whose column holds every one of these pieces of text, all `indexed`, or at the
    end of whose way a row's does; `begins`: with which it begins. To be limited: the index then gives no more than are
    wanted, while of `IN (…)` SQLite lists every one first."""
    if connection.vendor == "sqlite":
        found = look_up(column, words, school, begins=begins)
        found_there = rows.extra(tables=[found.name], where=[found.where], params=found.given)  # noqa: S610
        return cast("Rows", found_there.filter(**{way or "pk": RawSQL(found.key, ())}))  # noqa: S611 - our tables
    to, (_, _, name) = f"{way}__" if way else "", column.partition(".")
    said = f"{to}{name}__{'istartswith' if begins else 'icontains'}" if name else f"{to}search__contains"
    return rows.filter(*(Q(**{said: word}) for word in words), **{f"{to}school": school})


def make_trigrams(connection: BaseDatabaseWrapper, *columns: str) -> None:
    """Make the table with its triggers, or the index, of each, and fill it."""
    statements = _sqlite if connection.vendor == "sqlite" else _postgresql
    with connection.cursor() as cursor:
        for one in columns:
            table, _, column = one.partition(".")
            for statement in statements(table, column or "search", trigrams_of(one)):
                cursor.execute(statement)


def keep_trigrams(using: str, *columns: str) -> None:
    """Make them again where they are gone, or as an earlier version made them.

    On SQLite a later migration may remake a table, and a table takes its triggers with it.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    for one in columns:
        name = trigrams_of(one)
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name IN (%s, %s, %s)",
                [f"{name}_{event}" for event in _EVENTS],
            )
            (triggers,) = cursor.fetchone()
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE name IN (%s, %s)", [name, _terms_of(name)])
            made_by = dict(cursor.fetchall())
        whole = triggers == len(_EVENTS) and _terms_of(name) in made_by
        if name in made_by and not (whole and made_by[name] == _made_by(name)):
            make_trigrams(connection, one)


def _made_by(name: str) -> str:
    return f"CREATE VIRTUAL TABLE {name} USING fts5(search, content='', tokenize='trigram', detail='full')"


def _sqlite(table: str, column: str, name: str) -> tuple[str, ...]:
    # What the version before writes may be of no school for a night (`Letter.school`).
    key = "coalesce({0}school_id, 0) << 32 | {0}id"
    new = f"INSERT INTO {name}(rowid, search) VALUES ({key.format('new.')}, new.{column} || ' ')"
    old = f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', {key.format('old.')}, old.{column} || ' ')"
    return (
        f"DROP TABLE IF EXISTS {_terms_of(name)}",
        f"DROP TABLE IF EXISTS {name}",
        *(f"DROP TRIGGER IF EXISTS {name}_{event}" for event in _EVENTS),
        _made_by(name),
        f"CREATE VIRTUAL TABLE {_terms_of(name)} USING fts5vocab({name}, 'instance')",
        f"CREATE TRIGGER {name}_added AFTER INSERT ON {table} BEGIN {new}; END",
        f"CREATE TRIGGER {name}_changed AFTER UPDATE OF school_id, {column} ON {table} "
        f"WHEN old.{column} <> new.{column} OR old.school_id IS NOT new.school_id BEGIN {old}; {new}; END",
        f"CREATE TRIGGER {name}_removed AFTER DELETE ON {table} BEGIN {old}; END",
        f"INSERT INTO {name}(rowid, search) SELECT {key.format('')}, {column} || ' ' FROM {table} ORDER BY 1",
    )


def _postgresql(table: str, column: str, name: str) -> tuple[str, ...]:
    # A search is kept without case; in other columns `icontains` looks for great letters.
    within = column if column == "search" else f"upper({column}::text)"
    return (
        "CREATE EXTENSION IF NOT EXISTS pg_trgm",
        f"CREATE INDEX IF NOT EXISTS {name} ON {table} USING gin ({within} gin_trgm_ops)",
    )
