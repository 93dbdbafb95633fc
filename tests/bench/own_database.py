"""A database of its own for a benchmark, gone with it."""

from __future__ import annotations

import gc
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.test.utils import override_settings

from fleet.exchange.actions.measuring import measure_tables


def without_manifest(**more: Any) -> override_settings:
    """Settings, `more` among them, under which a page names its styles by themselves: none were gathered here."""
    plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    return override_settings(STORAGES={**settings.STORAGES, "staticfiles": plain}, **more)


def settle() -> None:
    """As a server that has run for a day: what the planner knows of the rows is of now."""
    measure_tables()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


@contextmanager
def own_database() -> Iterator[Path]:
    """The tables, empty, until it is over. Gives a folder that goes with them; on SQLite they lie in it as a file."""
    own = str(connection.settings_dict["NAME"])
    with tempfile.TemporaryDirectory(prefix="horn-bench-") as folder:
        if connection.vendor == "sqlite":
            connection.settings_dict["TEST"]["NAME"] = str(Path(folder) / "bench.sqlite3")
        connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        # As the server does (`fleet/wsgi.py`): what was read is not looked through for rubbish between pages.
        gc.freeze()
        try:
            yield Path(folder)
        finally:
            connection.creation.destroy_test_db(own, verbosity=0)
