"""Times a list of horns against the import library, with its defaults and in bulk, over the same file, in the same run.

Both sides get the bytes of one .xlsx file, first show what would happen and then write it, and keep the register's
search up. The library does so the way its admin pages do: load, a dry run, then the run that stays; its bulk mode
saves row by row no more, and calls no `save`. In turns; seconds are those of this process's processor, and only the
ratios mean anything.
"""

from __future__ import annotations

import argparse
import io
import random
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from fleet.exchange.actions import imports
from fleet.people.models import Post, School, User
from fleet.register.models import Horn
from tests.bench.own_database import own_database

NOW = datetime(2026, 9, 14, 10, 30, tzinfo=UTC)
# How many times as fast as each.
AT_LEAST = {"defaults": 15.0, "bulk": 5.0}
HEADINGS = ("number", "described_as", "maker", "model", "serial_number", "finish", "acquired_on", "price", "notes")


def a_list(horns: int) -> bytes:
    """An .xlsx file with so many invented horns."""
    from openpyxl import Workbook

    chance = random.Random(1)
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(list(HEADINGS))
    for n in range(horns):
        sheet.append(
            [
                f"B-{n:06d}",
                chance.choice(["double F/Bb", "compact single", "mellophone", "single F"]),
                chance.choice(["Workshop of the Town", "Brothers of the Valley", "Hand and Hammer"]),
                f"Model {chance.randrange(40)}",
                str(chance.randrange(10**7)),
                chance.choice(["lacquered", "silver", "bare"]),
                date(2001, 1, 1) + timedelta(days=chance.randrange(9000)),
                chance.randrange(100, 9000),
                "no dents" if n % 3 else "a dent in the bell",
            ]
        )
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


class Ours:
    """The steps of the pages, without the pages."""

    def __init__(self, school: School, head: User) -> None:
        self.school, self.head = school, head

    def load(self, data: bytes) -> None:
        self.imported = imports.take_in(
            school=self.school, kind="horns", file=io.BytesIO(data), name="bench.xlsx", by=self.head, at=NOW
        )
        imports.match_columns(imported=self.imported, columns=self.imported.columns, day_first=True)
        self.imported.refresh_from_db()

    def preview(self) -> None:
        while imports.look_over_next(imported=self.imported, at=NOW):
            pass

    def write(self) -> None:
        imports.begin_writing(imported=self.imported)
        while imports.write_next(imported=self.imported, by=self.head, at=NOW):
            pass


class Peer:
    """The import library: a resource over the model, its defaults, nothing tuned."""

    in_bulk = False

    def __init__(self, school: School, head: User) -> None:
        from import_export import resources

        in_bulk = self.in_bulk

        class HornResource(resources.ModelResource):
            def before_save_instance(self, instance: Any, row: Any, **kwargs: Any) -> None:
                instance.school = school

            class Meta:
                model = Horn
                import_id_fields = ("number",)
                fields = HEADINGS
                use_bulk = skip_diff = in_bulk

        self.resource = HornResource()

    def load(self, data: bytes) -> None:
        from tablib import Dataset

        self.rows = Dataset().load(data, format="xlsx")

    def preview(self) -> None:
        self._run(dry_run=True)

    def write(self) -> None:
        self._run(dry_run=False)

    def _run(self, *, dry_run: bool) -> None:
        result = self.resource.import_data(self.rows, dry_run=dry_run)
        if result.has_errors() or result.has_validation_errors():
            raise CommandError("The peer could not take the list in.")


class BulkPeer(Peer):
    in_bulk = True


SIDES: dict[str, type[Ours] | type[Peer]] = {"ours": Ours, "defaults": Peer, "bulk": BulkPeer}
STEPS = ("load", "preview", "write")


class Command(BaseCommand):
    help = "Time a list of horns against the import library, in a database of its own."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=10_000, help="rows of the list (100 to 19,000)")
        parser.add_argument("--rounds", type=int, default=3, help="how often each side does it (1 to 50)")

    def handle(self, *args: Any, horns: int, rounds: int, **options: Any) -> None:
        horns, rounds = min(max(horns, 100), 19_000), min(max(rounds, 1), 50)
        with own_database():
            good = self.compare(horns, rounds)
        if not good:
            sys.exit(1)

    def compare(self, horns: int, rounds: int) -> bool:
        school = School.objects.create(slug="bench", name="Bench School")
        head = User.objects.create_user("head@bench.example", name="Head")
        Post.objects.create(user=head, school=school, role="head")
        data = a_list(horns)
        self.stdout.write(
            f"{horns} horns, {len(data) // 1024} kB, on {connection.vendor}; {rounds} rounds, medians.\n\n"
        )
        times: dict[str, dict[str, list[float]]] = {name: {step: [] for step in STEPS} for name in SIDES}
        for turn in range(rounds):
            for name in SIDES if turn % 2 else reversed(SIDES):
                side = SIDES[name](school, head)
                for step in STEPS:
                    work: Callable[..., None] = getattr(side, step)
                    began = time.process_time()
                    work(data) if step == "load" else work()
                    times[name][step].append(time.process_time() - began)
                found = Horn.objects.having_words(f"{horns - 1:06d}", school=school).count()
                if (Horn.objects.at(school).count(), found) != (horns, 1):
                    raise CommandError(f"{name} did not bring the list in.")
                Horn.objects.at(school)._raw_delete(using=connection.alias)
        medians = {name: {step: statistics.median(times[name][step]) for step in STEPS} for name in times}
        for name in times:
            medians[name]["all"] = statistics.median(map(sum, zip(*times[name].values(), strict=True)))
        self.stdout.write(f"{'':10}{'ours':>10}{'defaults':>10}{'bulk':>10}{'times as fast':>16}\n")
        for step in (*STEPS, "all"):
            ours, defaults, bulk = (medians[name][step] for name in SIDES)
            ratios = f"{defaults / ours:.1f}, {bulk / ours:.1f}"
            self.stdout.write(f"{step:10}{ours:8.2f} s{defaults:8.2f} s{bulk:8.2f} s{ratios:>16}\n")
        self.stdout.write(f"\nMemory we held at most, beyond the start: {self._memory(school, head, horns)}.\n")
        good = True
        for name, wanted in AT_LEAST.items():
            reached = medians[name]["all"] / medians["ours"]["all"]
            good = good and reached >= wanted
            said = "Reached" if reached >= wanted else "MISSED"
            self.stdout.write(f"{said}: {reached:.1f} times as fast as {name}, wanted {wanted:.0f}.\n")
        return good

    def _memory(self, school: School, head: User, horns: int) -> str:
        """Peaks for a tenth of the list and for the whole of it: a bounded import needs about the same for both."""
        said = []
        for count in (horns // 10, horns):
            data = a_list(count)
            ours = Ours(school, head)
            tracemalloc.start()
            ours.load(data)
            loaded = tracemalloc.get_traced_memory()[1]
            tracemalloc.reset_peak()
            ours.preview()
            ours.write()
            rest = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            Horn.objects.at(school)._raw_delete(using=connection.alias)
            said.append(f"{count} rows: {loaded / 1e6:.1f} MB to read, {rest / 1e6:.1f} MB to look over and write")
        import resource  # which Windows lacks

        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        return "; ".join(said) + f"; both sides' process {most} MB"
