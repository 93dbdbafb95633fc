"""Brings a school back in from the file that export_school wrote."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.text import slugify

from fleet.exchange.actions.measuring import measure_tables
from fleet.exchange.actions.school_in import import_school
from fleet.ground.refusal import Refused
from fleet.stopping import stopped_with


class Command(BaseCommand):
    help = "Bring a school in from a file that export_school wrote: all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--at", default="", help="its part of the address here; default: the one it had")
        parser.add_argument("--another", action="store_true", help="there is a school of this name: this is another")

    def handle(self, *args: Any, file: Path, at: str, another: bool, **options: Any) -> None:
        if not file.is_file():
            raise CommandError(f"There is no file {file}.")
        if at and (slugify(at) != at or len(at) > 40):
            raise CommandError("--at takes a part of an address, like hill-road: small letters, digits, dashes.")
        try:
            with stopped_with("Stopped before it was done. Nothing was brought in."):
                school = import_school(file=file, slug=at, another=another, at=timezone.now(), say=self.stdout.write)
        except Refused as no:
            raise CommandError(no.sentence) from no
        measure_tables()
        self.stdout.write(f"{school} is open at /s/{school.slug}/. Its people sign in with a code sent by e-mail.")
