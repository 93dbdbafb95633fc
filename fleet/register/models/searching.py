"""How horns are found by words: one column, made alike on both sides, looked up by three letters at a time.

SQLite keeps the column in an FTS5 table with the trigram tokenizer, PostgreSQL in a GIN index of trigrams.
A word of two letters is looked up as the beginning of a word, one letter as a whole word: with the space
around it, it is three letters too.
"""

# The statements below are put together from the one table name of this module, never from what people type.
# ruff: noqa: S608

from __future__ import annotations

from typing import Any, TypeVar, cast

from django.db import connection, models
from django.db.backends.base.base import BaseDatabaseWrapper

from fleet.ground.wording import folded
from fleet.people.models.searched import words_of

Horns = TypeVar("Horns", bound=models.QuerySet[Any])

LONGEST_QUERY = 100
TABLE = "register_horn_search"


def searchable(*parts: str) -> str:
    """Parts joined, casefolded, without accents: what the search looks in, and what is typed is made alike."""
    return folded(" ".join(part for part in parts if part))


def terms(query: str) -> list[str]:
    """The pieces of text, three letters at least, that must all occur in a horn's search column."""
    words = words_of(query[:LONGEST_QUERY])
    return [{1: f" {word} ", 2: f" {word}"}.get(len(word), word) for word in words]


def having_words(horns: Horns, query: str, *, walk: bool = False) -> Horns:
    """Horns in whose search column every word of the query occurs.

    With `walk` the words are compared row by row along whatever order is asked for: quicker when so many horns
    match that a page is full after a few rows.
    """
    wanted = terms(query)
    if not wanted:
        return horns
    if connection.vendor == "sqlite" and not walk:
        quoted = " AND ".join('"' + term.replace('"', '""') + '"' for term in wanted)
        # A join rather than `IN (…)`, so that SQLite can stop at the limit instead of listing every match first;
        # the plus keeps it from asking the search table once for each horn of the school.
        narrowed = horns.extra(  # noqa: S610
            tables=[TABLE],
            where=[f"+{TABLE}.rowid = register_horn.id", f"{TABLE} MATCH %s"],
            params=[quoted],
        )
        return cast("Horns", narrowed)
    for term in wanted:
        horns = horns.filter(search__contains=term)
    return horns


_SQLITE = (
    f"DROP TABLE IF EXISTS {TABLE}",
    f"CREATE VIRTUAL TABLE {TABLE} USING fts5"
    "(search, content='register_horn', content_rowid='id', tokenize='trigram', detail='full')",
    f"CREATE TRIGGER IF NOT EXISTS {TABLE}_added AFTER INSERT ON register_horn BEGIN "
    f"INSERT INTO {TABLE}(rowid, search) VALUES (new.id, new.search); END",
    f"CREATE TRIGGER IF NOT EXISTS {TABLE}_changed AFTER UPDATE OF search ON register_horn "
    "WHEN old.search <> new.search BEGIN "
    f"INSERT INTO {TABLE}({TABLE}, rowid, search) VALUES ('delete', old.id, old.search); "
    f"INSERT INTO {TABLE}(rowid, search) VALUES (new.id, new.search); END",
    f"CREATE TRIGGER IF NOT EXISTS {TABLE}_removed AFTER DELETE ON register_horn BEGIN "
    f"INSERT INTO {TABLE}({TABLE}, rowid, search) VALUES ('delete', old.id, old.search); END",
    f"INSERT INTO {TABLE}({TABLE}) VALUES ('rebuild')",
)
_POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    f"CREATE INDEX IF NOT EXISTS {TABLE} ON register_horn USING gin (search gin_trgm_ops)",
    # PostgreSQL sorts the empty to the end unless told otherwise; the list has horns never checked first.
    "CREATE INDEX IF NOT EXISTS horn_by_check_empty_first ON register_horn "
    "(school_id, checked_on NULLS FIRST, number_stem, number_tail, id)",
)


def make_tables(connection: BaseDatabaseWrapper) -> None:
    """Make the search's table, triggers or index, and fill them; with them what only PostgreSQL needs."""
    statements = {"sqlite": _SQLITE, "postgresql": _POSTGRESQL}[connection.vendor]
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def keep_tables(using: str = "default") -> None:
    """Make them again where they are gone.

    On SQLite a later migration may remake the horns' table, and a table takes its triggers with it.
    """
    from django.db import connections

    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE tbl_name = 'register_horn' AND type = 'trigger'")
        triggers = cursor.fetchall()
        cursor.execute("SELECT 1 FROM sqlite_master WHERE name = %s", [TABLE])
        has_table = cursor.fetchone() is not None
    if has_table and len(triggers) < 3:
        make_tables(connection)
