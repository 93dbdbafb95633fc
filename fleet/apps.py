import sys

from django.apps import AppConfig

# The package of the tables looks for a field of PostgreSQL's that no table of ours has. With it would come that
# engine's driver, to a site on SQLite, too: 11 MB a process.
HSTORE = "django.contrib.postgres.fields"
if HSTORE not in sys.modules:
    sys.modules[HSTORE] = None  # type: ignore[assignment]


class FleetConfig(AppConfig):
    name = "fleet"
    label = "fleet"

    def ready(self) -> None:
        # Where the apps are read again, nothing stands there any more.
        if HSTORE in sys.modules and sys.modules[HSTORE] is None:
            del sys.modules[HSTORE]
