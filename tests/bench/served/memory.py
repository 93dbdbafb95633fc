"""What a worker holds at most while it draws a page or print of a large school, each in a worker of its own.

The school is furnished in a process of its own, so that what that took is not counted. Then a process that has asked
for nothing yet is copied for each page a head may read, prints, lists as files and the whole school's file among them;
so what a page needs of libraries counts for it. Last one copy asks for all of them, as a worker that lives long.
Megabytes are those in memory at most (VmHWM); Linux alone says them.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections.abc import Iterable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, cast

from django.core.management.base import BaseCommand
from django.db import connection
from django.test import Client

from fleet.ground.access import DOORS, Role
from fleet.people.models import User
from tests.bench.own_database import own_database, without_manifest
from tests.bench.pages import school_of
from tests.doors import SCHOOL_PAGES

MOST_MB = 150
SHOWN = 12
COPIES = multiprocessing.get_context("fork")


class Command(BaseCommand):
    help = "What each page holds at most. Exits 1 when one holds more than it may."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=5_000, help="horns of the school (200 to 100,000)")

    def handle(self, *args: Any, horns: int, **options: Any) -> None:
        horns = min(max(horns, 200), 100_000)
        with own_database(), without_manifest(ALLOWED_HOSTS=["*"]):
            head, addresses = furnished(horns)
            client = Client(headers={"accept-encoding": "gzip"})
            client.force_login(User.objects.get(pk=head), backend="allauth.account.auth_backends.AuthenticationBackend")
            rest = held("VmRSS")
            each = {name: peak for name, address in addresses.items() if (peak := of_its_own(client, [address]))}
            together = of_its_own(client, addresses.values())
        self.stdout.write(f"{horns:,} horns on {connection.vendor}, {len(each)} pages; {rest:.0f} MB before any:\n")
        for name, peak in sorted(each.items(), key=lambda one: -one[1])[:SHOWN]:
            self.stdout.write(f"  {name:32}{peak:7.0f} MB\n")
        most = max(each.values())
        self.stdout.write(
            f"{'Reached' if most <= MOST_MB else 'MISSED'}: {most:.0f} MB, wanted {MOST_MB}; all one after the other "
            f"{together:.0f} MB.\n"
        )
        if most > MOST_MB:
            sys.exit(1)


def of_its_own(client: Client, addresses: Iterable[str]) -> float:
    """What a copy of this process held at most that asked for these; 0 where none of them is a page."""
    connection.close()
    ours, theirs = COPIES.Pipe()
    worker = COPIES.Process(target=asking, args=(theirs, client, addresses))
    worker.start()
    theirs.close()
    peak = cast("float", ours.recv())
    worker.join()
    return peak


def asking(line: Connection, client: Client, addresses: Iterable[str]) -> None:
    pages = 0
    for address in addresses:
        answer = client.get(address)
        if answer.status_code == 200:
            pages += 1
            # What is sent piece by piece is not kept whole.
            for _ in cast("Iterable[bytes]", answer):
                pass
        answer.close()
    line.send(held("VmHWM") if pages else 0.0)
    connection.close()


def held(what: str) -> float:
    """Megabytes of this process, now (VmRSS) or at most (VmHWM)."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(what)) / 1024


def furnished(horns: int) -> tuple[int, dict[str, str]]:
    """A head's key and what they may read, of a school made in another process."""
    connection.close()
    ours, theirs = COPIES.Pipe()
    maker = COPIES.Process(target=making, args=(theirs, horns))
    maker.start()
    theirs.close()
    told = cast("tuple[int, dict[str, str]]", ours.recv())
    maker.join()
    return told


def making(line: Connection, horns: int) -> None:
    world = school_of(horns)
    pages = (name for name in SCHOOL_PAGES if Role.HEAD in DOORS[name].read)
    line.send((world.people[Role.HEAD].pk, {name: world.address(name) for name in pages}))
    connection.close()
