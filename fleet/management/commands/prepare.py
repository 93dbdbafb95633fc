"""Makes the data ready for this version of the site: tables, counters, static files."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Migrate the database, make the table of throttle counters, and gather the static files."

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        call_command("createcachetable", verbosity=0)
        call_command("collectstatic", verbosity=0, interactive=False)
