from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.desk.actions.demo import anything_is_here, load


class Command(BaseCommand):
    help = "Load the invented demo school into an empty database."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--only-when-empty", action="store_true", help="do nothing, quietly, when there is data")

    def handle(self, *args: Any, **options: Any) -> None:
        if anything_is_here():
            if options["only_when_empty"]:
                return
            raise CommandError("There are people on record here already. The demo goes into an empty database only.")
        school = load(at=timezone.now())
        self.stdout.write(f"Loaded {school}, an invented school.")
