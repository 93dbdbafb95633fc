"""Proves that what is kept on the horns is what the rows say, and says where it is not."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from fleet.register.models import Horn
from fleet.register.queries.kept import as_told, differences


class Command(BaseCommand):
    help = "Compares what is kept on each horn with its loans, jobs, checks and events. Exits 1 if anything differs."
    # Its own check of the data is the check; those of the code would first read every page.
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        count = total = 0
        horns = as_told(Horn.objects.select_related("school")).order_by("school_id", "number_stem", "number_tail", "pk")
        for horn in horns.iterator(chunk_size=500):
            total += 1
            differs = differences(horn)
            count += bool(differs)
            for column, (kept, told) in differs.items():
                self.stdout.write(
                    f"{horn.school}, {horn}: {column} is kept as {_said(kept)}; the rows say {_said(told)}."
                )
        if count:
            self.stdout.write(f"{count} of {total} horns differ from their rows.")
            sys.exit(1)
        self.stdout.write(f"All {total} horns agree with their rows.")


def _said(value: Any) -> str:
    return (
        "nothing"
        if value in (None, "")
        else {True: "yes", False: "no"}.get(value, str(value))
        if isinstance(value, bool)
        else str(value)
    )
