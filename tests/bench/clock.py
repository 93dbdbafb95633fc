"""Seconds that a page takes of processors: this process's, and a database server's for it where that can be read."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from django.db import connection


def spent() -> float:
    """Of this process, and of what serves its connection on PostgreSQL, where the server runs on this Linux machine.

    The server may set no others to the same query: `alone()` first.
    """
    serving = _serving()
    return time.process_time() + (int(serving.read_text(encoding="ascii").split()[0]) / 1e9 if serving else 0.0)


def alone() -> str:
    """From now on a query is answered by one process of the server. What `spent` holds, in words."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET max_parallel_workers_per_gather = 0")
        return "and the server's" if _serving() else "without the server's, which cannot be read here"
    return "with the database in it"


def _serving() -> Path | None:
    if connection.vendor != "postgresql":
        return None
    connection.ensure_connection()
    session: Any = connection.connection
    # Nanoseconds on a processor come first in it.
    told = Path("/proc", str(session.info.backend_pid), "schedstat")
    return told if told.exists() else None
