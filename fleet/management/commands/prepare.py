"""Makes the data ready for this version of the site: tables, counters, static files."""

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

from fleet import environment
from fleet.desk.actions.tidying import keep_in_turn
from fleet.workshop.models import RepairJob


class Command(BaseCommand):
    help = "Migrate the database, make the table of throttle counters, gather the static files, let nobody else in."

    def handle(self, *args: Any, **options: Any) -> None:
        # Pictures of an older release, or copied here: too many to look at whenever any command starts.
        environment.private(settings.DATA_DIR, whole=True)
        call_command("migrate", verbosity=0, interactive=False)
        # Of a version that kept none: no migration reckons with the models of today.
        keep_in_turn(jobs=RepairJob.objects.open().filter(turn=None))
        call_command("createcachetable", verbosity=0)
        call_command("collectstatic", verbosity=0, interactive=False)
