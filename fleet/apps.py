import sys
from typing import Any

from django.apps import AppConfig
from django.db.backends.signals import connection_created

# The package of the tables looks for a field of PostgreSQL's that no table of ours has. With it would come that
# engine's driver, to a site on SQLite, too: 11 MB a process.
HSTORE = "django.contrib.postgres.fields"
if HSTORE not in sys.modules:
    sys.modules[HSTORE] = None  # type: ignore[assignment]


def without_compiling(connection: Any, **_: Any) -> None:
    """PostgreSQL compiles what it takes to be dear, a fifth of a second each time for questions of many parts that take
    it a few milliseconds."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET jit TO off")


class FleetConfig(AppConfig):
    name = "fleet"
    label = "fleet"

    def ready(self) -> None:
        connection_created.connect(without_compiling)
        # Where the apps are read again, nothing stands there any more.
        if HSTORE in sys.modules and sys.modules[HSTORE] is None:
            del sys.modules[HSTORE]
