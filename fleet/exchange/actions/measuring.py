"""What an engine is told of its tables once many rows came at once, and every night."""

from __future__ import annotations

from django.db import connection, transaction


def measure_tables() -> None:
    """Tells SQLite how many rows its tables have, by which it chooses what to begin a query with. PostgreSQL looks for
    itself, within minutes of many rows: its autovacuum, which analyzes too and is on unless somebody switched it off
    (PostgreSQL 17, 24.1.6).

    Of an empty table SQLite notes nothing, and would take it for one of a million rows; nor of an index of some rows
    where none are like that, and would go along another through all of them. Connections that are open read its notes
    again only when a table came or went: so their table is made anew.
    """
    if connection.vendor != "sqlite":
        return
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DROP TABLE IF EXISTS sqlite_stat1")
        cursor.execute("ANALYZE")
        cursor.execute(
            "INSERT INTO sqlite_stat1 (tbl, stat) SELECT name, '1' FROM sqlite_master WHERE type = 'table'"
            " AND sql NOT LIKE 'CREATE VIRTUAL%' AND name NOT LIKE 'sqlite_%'"
            " AND name NOT IN (SELECT tbl FROM sqlite_stat1)"
        )
        cursor.execute(
            "INSERT INTO sqlite_stat1 (tbl, idx, stat) SELECT tbl_name, name, '1 1' FROM sqlite_master"
            " WHERE type = 'index' AND sql LIKE '% WHERE %'"
            " AND name NOT IN (SELECT idx FROM sqlite_stat1 WHERE idx IS NOT NULL)"
        )
        cursor.execute("ANALYZE sqlite_master")
