"""Brings a school back in from the file that export_school wrote."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.exchange.actions.school_in import import_school
from fleet.ground.refusal import Refused


class Command(BaseCommand):
    help = "Bring a school in from a file that export_school wrote: all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        try:
            school = import_school(file=file, say=self.stdout.write)
        except Refused as no:
            raise CommandError(no.sentence) from no
        self.stdout.write(f"{school} is open at /s/{school.slug}/. Its people sign in with a code sent by e-mail.")
