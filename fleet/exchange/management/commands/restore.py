"""Brings the whole site back from the file that backup wrote."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.exchange.actions.measuring import measure_tables
from fleet.exchange.actions.site_in import restore
from fleet.exchange.actions.site_recorded import record_restored
from fleet.ground.refusal import Refused
from fleet.stopping import stopped_with


class Command(BaseCommand):
    help = "Bring the whole site back from a file that backup wrote, into an empty site: all of it or nothing."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            with stopped_with("Stopped before it was done. Nothing was restored."):
                backup = restore(file=file, say=self.stdout.write)
        except OSError as trouble:
            raise CommandError(f"Nothing was restored: {trouble.strerror}.") from trouble
        except Refused as no:
            raise CommandError(no.sentence) from no
        with stopped_with("The site is back. Stopped before it was made ready: run manage.py prepare."):
            call_command("prepare")
            measure_tables()
            record_restored(file=file, made_at=backup.at, at=timezone.now())
        self.stdout.write(
            f"The site is as it was on {timezone.localtime(backup.at):%Y-%m-%d at %H:%M}. Everybody signs in anew."
        )
