"""Writes a whole school into one file, for a handover."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.exchange.queries.school_out import export_school
from fleet.people.models import School
from fleet.record.actions.recording import record
from fleet.record.actions.sealing import seal
from fleet.record.models import Deed
from fleet.stopping import stopped_with


class Command(BaseCommand):
    help = "Write everything a school has into one .zip file: tables, pictures, loan sheets. It holds personal data."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug", help="the school's part of the address")
        parser.add_argument("file", type=Path, help="the file to write")

    def handle(self, *args: Any, slug: str, file: Path, **options: Any) -> None:
        school = School.objects.filter(slug=slug).first()
        if school is None:
            raise CommandError(f"There is no school at /s/{slug}/.")
        if file.exists():
            raise CommandError(f"{file} is there already; name another file.")
        now = timezone.now()
        # Before the file: it says of itself that it was written, and its chain is whole.
        record(deed=Deed.SCHOOL_TAKEN, school=school, by=None, at=now)
        seal(school=school.pk)
        try:
            with stopped_with(f"Stopped before it was done. {file} was not written."):
                export_school(school=school, to=file, at=now, say=self._say)
        except OSError as trouble:
            raise CommandError(f"{file} cannot be written: {trouble.strerror}.") from trouble
        file.chmod(0o600)
        self.stdout.write(f"{school} is in {file}, {file.stat().st_size // 1024} kB. Only its owner can read it.")

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        # Into a file or a pipe too, while it goes on.
        self.stdout.flush()
