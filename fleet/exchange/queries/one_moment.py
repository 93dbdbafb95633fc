"""Reading that takes minutes, while people go on working."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction


@contextmanager
def one_moment() -> Iterator[None]:
    """All that is read inside stands as at one moment, and nobody who writes waits for it.

    Inside another transaction it is as that one is.
    """
    if connection.in_atomic_block:
        yield
        return
    site: Any = connection
    site.ensure_connection()
    if connection.vendor == "sqlite":
        # The site's transactions take the write lock when they begin. This one writes nothing.
        usual, site.transaction_mode = site.transaction_mode, "DEFERRED"
    try:
        with transaction.atomic():
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield
    finally:
        if connection.vendor == "sqlite":
            site.transaction_mode = usual
