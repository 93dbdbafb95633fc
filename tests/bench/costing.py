"""What a school costs whoever runs the site: room in the database, time of a processor, bytes over the wire, memory.

So many schools stand side by side, each of so many horns, half of them out, and with everything around them once. The
pages of a day are asked for of one of them, first while it is alone: a page that reads other schools' rows costs more
among them. The peer, a form with no rows at all, is asked for in turns with each page, and how many times as long a
page takes is compared, since no machine is as quick at one time as at another. Seconds are those of the processor of
this process, the least of some rounds; beside them the page's queries. `SCALE.md` reckons on from these figures.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

from django.core.management.base import BaseCommand
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from tests.bench.own_database import own_database, settle, without_manifest
from tests.bench.pages import school_of
from tests.doors import World

DAY = (
    "desk:today",
    "register:horns",
    "desk:horn",
    "identify:walk",
    "workshop:check-new",
    "loans:loans",
    "people:pupils",
    "desk:pupil-data",
    "desk:pupil-forget",
    "people:pupil",
)
ROUNDS = 15
# Beside others a page may take so much of what it takes alone: a tenth, and what the clock of a busy machine varies by.
MOST = 1.25
# Kilobytes that may go over the wire.
WIRE = {"register:horns": 6.0}
PEER = "people:settings-school"


class Cost(NamedTuple):
    ms: float
    peer: float
    wire: int
    queries: int

    @property
    def times(self) -> float:
        return self.ms / self.peer


class Command(BaseCommand):
    help = "What a school costs, and whether it costs more beside others. Exits 1 when a page does."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=200, help="horns of a school (20 to 5,000)")
        parser.add_argument("--schools", type=int, default=40, help="schools side by side (2 to 400)")

    def handle(self, *args: Any, horns: int, schools: int, **options: Any) -> None:
        horns, schools = min(max(horns, 20), 5_000), min(max(schools, 2), 400)
        with own_database() as folder, without_manifest(ALLOWED_HOSTS=["*"]):
            empty = room(folder)
            one = school_of(horns)
            settle()
            alone, first = costs(one), room(folder)
            for _ in range(schools - 1):
                school_of(horns)
            settle()
            among, last = costs(one), room(folder)
        import resource  # which Windows lacks

        each = (last - empty) / schools
        self.stdout.write(
            f"{schools} schools of {horns} horns on {connection.vendor}: {each / 1e6:.2f} MB of the database each "
            f"({each / horns / 1e3:.1f} kB a horn; the first {(first - empty) / 1e6:.2f} MB), "
            f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB held at most.\n\n"
            f"{'':22}{'alone':>9}{'among':>10}{'ratio':>8}{'wire':>10}{'queries':>9}\n"
        )
        dear = []
        for name in alone:
            by_itself, beside = alone[name].ms, among[name].ms
            ratio = among[name].times / alone[name].times
            wire = among[name].wire / 1e3
            # Under a millisecond more nobody waits, and the clock itself is no finer.
            over = (ratio > MOST and beside - by_itself > 1) or wire > WIRE.get(name, wire)
            dear += [name] if over else []
            self.stdout.write(
                f"{name:22}{by_itself:6.1f} ms{beside:7.1f} ms{ratio:8.2f}{wire:7.1f} kB{among[name].queries:9}\n"
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


def costs(world: World) -> dict[str, Cost]:
    """What each page of a day takes, and what goes over the wire."""
    client = Client(headers={"accept-encoding": "gzip"})
    client.force_login(world.people[Role.HEAD], backend="fleet.people.queries.signed_in.Accounts")
    peer, found = world.address(PEER), {}
    for name in DAY:
        address, took, wire = world.address(name), dict[str, list[float]](), 0
        for _ in range(ROUNDS):
            for asked in (peer, address):
                begun = time.process_time()
                answer = client.get(asked)
                took.setdefault(asked, []).append(time.process_time() - begun)
                if answer.status_code != 200:
                    raise RuntimeError(f"{asked} answered {answer.status_code}.")
                wire = len(answer.content)
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        found[name] = Cost(min(took[address]) * 1e3, min(took[peer]) * 1e3, wire, len(queries))
    return found
