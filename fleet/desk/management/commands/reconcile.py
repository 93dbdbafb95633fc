"""Proves that what is kept on the horns and of the turns of their jobs is what the rows say; says where it is not."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from fleet.register.models import Horn
from fleet.register.queries.kept import as_told, differences
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.in_turn import kept_otherwise


class Command(BaseCommand):
    help = (
        "Compares what is kept on each horn and of each open job’s turn with their rows. Exits 1 if anything differs."
    )
    # Its own check of the data is the check; those of the code would first read every page.
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        agree = [self._horns(), self._jobs()]
        if not all(agree):
            sys.exit(1)

    def _horns(self) -> bool:
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
        return self._ends(count, total, "horns")

    def _jobs(self) -> bool:
        jobs = RepairJob.objects.open().order_by("pk")
        differ = list(kept_otherwise(jobs.values_list("pk", flat=True)))
        rows = jobs.select_related("horn__school").in_bulk([job.pk for job, _, _ in differ])
        for job, turn, wants in differ:
            horn = rows[job.pk].horn
            whose = f"{horn.school}, {horn}: its job’s"
            for column, kept, told in (("turn", job.turn, turn), ("wants", job.wants, wants)):
                if kept != told:
                    self.stdout.write(f"{whose} {column} is kept as {_said(kept)}; the rows say {_said(told)}.")
        return self._ends(len(differ), jobs.count(), "open jobs")

    def _ends(self, differ: int, total: int, what: str) -> bool:
        said = f"{differ} of {total} {what} differ from" if differ else f"All {total} {what} agree with"
        self.stdout.write(f"{said} their rows.")
        return not differ


def _said(value: Any) -> str:
    return (
        "nothing"
        if value in (None, "")
        else {True: "yes", False: "no"}.get(value, str(value))
        if isinstance(value, bool)
        else str(value)
    )
