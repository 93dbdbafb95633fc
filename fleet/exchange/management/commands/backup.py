"""Writes the whole site into one file while it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError
from django.utils import timezone

from fleet.exchange.actions.site_recorded import record_backup
from fleet.exchange.queries.site_out import back_up
from fleet.ground.refusal import Refused
from fleet.stopping import stopped_with


class Command(BaseCommand):
    help = "Write the database and all pictures into one .zip file while the site runs. It holds personal data."
    # Its own check of the data is the check; those of the code would first read every page.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the file to write")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if file.exists():
            raise CommandError(f"{file} is there already; name another file.")
        try:
            now = timezone.now()
            with stopped_with(f"Stopped before it was done. {file} was not written."):
                back_up(to=file, at=now, say=self.stdout.write)
        except OSError as trouble:
            raise CommandError(f"{file} cannot be written: {trouble.strerror}.") from trouble
        except Refused as no:
            raise CommandError(no.sentence) from no
        self.stdout.write(
            f"The site is in {file}, {file.stat().st_size // 1024} kB, and was read again from end to end. "
            "Only its owner can read it."
        )
        # Afterwards: a site that cannot be written any more needs its backup most.
        try:
            record_backup(file=file, at=now)
        except DatabaseError as trouble:
            self.stdout.write(f"It does not stand on the record: {trouble}.")
