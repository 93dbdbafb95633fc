"""What a school costs whoever runs the site: room in the database, time of a processor, bytes over the wire, memory.

So many schools stand side by side, each of so many horns, half of them out, and with everything around them once. What
the database was while the first was alone is set aside, and the pages of that school's day are asked for of both in
turns, since no machine is as quick at one time as at another: a page that reads other schools' rows costs more among
them. Words are asked for that people of all schools have. Seconds are those of the processor of this process, the
least of some rounds; beside them the page's queries. `SCALE.md` reckons on from these figures.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from django.core.management.base import BaseCommand
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import DOORS, Reach, Role
from tests.bench.own_database import own_database, settle, without_manifest
from tests.bench.pages import browser, school_of
from tests.doors import World

DAY = (
    "desk:today",
    "register:horns",
    "register:horns?q=maker",
    "register:horns?q=bx-000101",
    "desk:horn",
    "desk:picture",
    "identify:walk",
    "workshop:bench",
    "workshop:bench?state=done",
    "workshop:check-new",
    "counting:counts",
    "loans:loans",
    "loans:loans?state=ended",
    "loans:loans?q=family",
    "loans:calendar",
    "loans:charges",
    "loans:letters",
    "loans:letters?q=family",
    "people:pupils",
    "people:pupils?q=family",
    "people:pupil",
    "people:pupil-twice?q=family",
    "people:guardian-twice?q=robin",
    "desk:pupil-data",
    "desk:pupil-forget",
    "desk:family-horn",
    "desk:family-papers",
    "desk:family-data",
)
ROUNDS = 30
# Beside others a page may take so much of what it takes alone: a tenth, and what the clock varies by.
MOST = 1.15
# Kilobytes that may go over the wire.
WIRE = {"register:horns": 6.0}


class Cost(NamedTuple):
    alone: float
    among: float
    wire: int
    queries: int


class Command(BaseCommand):
    help = "What a school costs, and whether it costs more beside others. Exits 1 when a page does."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=200, help="horns of a school (60 to 5,000)")
        parser.add_argument("--schools", type=int, default=40, help="schools side by side (2 to 400)")

    def handle(self, *args: Any, horns: int, schools: int, **options: Any) -> None:
        horns, schools = min(max(horns, 60), 5_000), min(max(schools, 2), 400)
        with own_database() as folder, without_manifest(ALLOWED_HOSTS=["*"]):
            empty = room(folder)
            one = school_of(horns)
            signed_in = {Reach.SCHOOL: browser(one, Role.HEAD), Reach.FAMILY: browser(one, Role.GUARDIAN)}
            settle()
            first = room(folder)
            with set_aside(folder) as alone:
                for _ in range(schools - 1):
                    school_of(horns)
                settle()
                found, last = costs(one, signed_in, alone), room(folder)
        import resource  # which Windows lacks

        each = (last - empty) / schools
        self.stdout.write(
            f"{schools} schools of {horns} horns on {connection.vendor}: {each / 1e6:.2f} MB of the database each "
            f"({each / horns / 1e3:.1f} kB a horn; the first {(first - empty) / 1e6:.2f} MB), "
            f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB held at most.\n\n"
            f"{'':30}{'alone':>9}{'among':>10}{'ratio':>8}{'wire':>10}{'queries':>9}\n"
        )
        dear = []
        for name, cost in found.items():
            wire, ratio = cost.wire / 1e3, cost.among / cost.alone
            # Under a millisecond more nobody waits, and the clock itself is no finer.
            over = (ratio > MOST and cost.among - cost.alone > 1) or wire > WIRE.get(name, wire)
            dear += [name] if over else []
            self.stdout.write(
                f"{name:30}{cost.alone:6.1f} ms{cost.among:7.1f} ms{ratio:8.2f}{wire:7.1f} kB{cost.queries:9}\n"
            )
        self.stdout.write(f"{'MISSED: ' + ', '.join(dear) if dear else 'Reached'}\n")
        if dear:
            sys.exit(1)


def room(folder: Path) -> int:
    """Bytes of the whole database, indexes included."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_database_size(current_database())")
            return int(cursor.fetchone()[0])
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return sum(path.stat().st_size for path in folder.glob("bench.sqlite3*"))


@contextmanager
def set_aside(folder: Path) -> Iterator[BaseDatabaseWrapper]:
    """A line to a copy of the database as it is now, which is gone afterwards."""
    now, aside = str(connection.settings_dict["NAME"]), connections[DEFAULT_DB_ALIAS].copy()
    connection.close()
    if connection.vendor == "sqlite":
        aside.settings_dict["NAME"] = shutil.copy(now, folder / "alone.sqlite3")
        yield aside
        aside.close()
        return
    aside.settings_dict["NAME"] = alone = f"{now}_alone"
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'CREATE DATABASE "{alone}" TEMPLATE "{now}"')
    try:
        yield aside
    finally:
        aside.close()
        with connection._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE "{alone}"')


def costs(world: World, signed_in: dict[Reach, Client], alone: BaseDatabaseWrapper) -> dict[str, Cost]:
    """What each page of a day takes, and what goes over the wire."""
    among, found = connections[DEFAULT_DB_ALIAS], {}
    for asked in DAY:
        name, _, query = asked.partition("?")
        client, address = signed_in[DOORS[name].reach], f"{world.address(name)}?{query}"
        took = {alone: list[float](), among: list[float]()}
        for _ in range(ROUNDS):
            for line, seconds in took.items():
                connections[DEFAULT_DB_ALIAS] = line
                begun = time.process_time()
                answer = client.get(address)
                seconds.append(time.process_time() - begun)
                if answer.status_code != 200:
                    raise RuntimeError(f"{address} answered {answer.status_code}.")
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        found[asked] = Cost(min(took[alone]) * 1e3, min(took[among]) * 1e3, len(answer.content), len(queries))
    return found
