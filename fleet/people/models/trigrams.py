"""The `search` columns of tables, looked up by any three letters and more.

SQLite keeps them in an FTS5 table with the trigram tokenizer, which triggers fill, PostgreSQL in a GIN index.
"""

# The statements below are put together from names of our tables, never from what people type.
# ruff: noqa: S608

from __future__ import annotations

from collections.abc import Sequence

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

SHORTEST = 3
PEOPLE = ("people_pupil", "people_guardian")


def trigrams_of(table: str) -> str:
    return f"{table}_search"


def said(words: Sequence[str], joint: str = "AND") -> str:
    """What an FTS5 table is asked for: every one of these pieces of text, or with `OR` any."""
    return f" {joint} ".join('"' + word.replace('"', '""') + '"' for word in words)


def make_trigrams(connection: BaseDatabaseWrapper, *tables: str) -> None:
    """Make the table with its triggers, or the index, of each, and fill it."""
    with connection.cursor() as cursor:
        for table in tables:
            for statement in (_sqlite if connection.vendor == "sqlite" else _postgresql)(table, trigrams_of(table)):
                cursor.execute(statement)


def keep_trigrams(using: str, *tables: str) -> None:
    """Make them again where they are gone.

    On SQLite a later migration may remake a table, and a table takes its triggers with it.
    """
    connection = connections[using]
    if connection.vendor != "sqlite":
        return
    for table in tables:
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM sqlite_master WHERE tbl_name = %s AND type = 'trigger'", [table])
            (triggers,) = cursor.fetchone()
            cursor.execute("SELECT 1 FROM sqlite_master WHERE name = %s", [trigrams_of(table)])
            has_table = cursor.fetchone() is not None
        if has_table and triggers < 3:
            make_trigrams(connection, table)


def _sqlite(table: str, name: str) -> tuple[str, ...]:
    return (
        f"DROP TABLE IF EXISTS {name}",
        f"CREATE VIRTUAL TABLE {name} USING fts5"
        f"(search, content='{table}', content_rowid='id', tokenize='trigram', detail='full')",
        f"CREATE TRIGGER IF NOT EXISTS {name}_added AFTER INSERT ON {table} BEGIN "
        f"INSERT INTO {name}(rowid, search) VALUES (new.id, new.search); END",
        f"CREATE TRIGGER IF NOT EXISTS {name}_changed AFTER UPDATE OF search ON {table} "
        "WHEN old.search <> new.search BEGIN "
        f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', old.id, old.search); "
        f"INSERT INTO {name}(rowid, search) VALUES (new.id, new.search); END",
        f"CREATE TRIGGER IF NOT EXISTS {name}_removed AFTER DELETE ON {table} BEGIN "
        f"INSERT INTO {name}({name}, rowid, search) VALUES ('delete', old.id, old.search); END",
        f"INSERT INTO {name}({name}) VALUES ('rebuild')",
    )


def _postgresql(table: str, name: str) -> tuple[str, ...]:
    return (
        "CREATE EXTENSION IF NOT EXISTS pg_trgm",
        f"CREATE INDEX IF NOT EXISTS {name} ON {table} USING gin (search gin_trgm_ops)",
    )
