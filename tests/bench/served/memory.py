"""What a worker holds at most while it draws a page or print of a large school, each in a worker of its own.

A worker that has read the site and asked for nothing yet is copied for each page a head may read, prints, lists as
files and the whole school's file among them; so what a page needs of libraries counts for it. Last one copy asks for
all of them, as a worker that lives long. Megabytes are those in memory at most (VmHWM); Linux alone says them.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import subprocess
import sys
from multiprocessing.connection import Connection
from typing import Any, cast

from django.core.management.base import BaseCommand
from django.db import connection

from fleet.ground.access import DOORS, Role
from fleet.people.models import User
from tests.bench.own_database import own_database
from tests.bench.pages import school_of
from tests.bench.served.site import ROOT, prepared, signed_in
from tests.doors import SCHOOL_PAGES

MOST_MB = 150
SHOWN = 12
WORKER = """
import json, os, sys
from io import BytesIO
from fleet.wsgi import application

def held(what):
    with open("/proc/self/status") as lines:
        return next(int(line.split()[1]) for line in lines if line.startswith(what)) / 1024

def ask(path, cookie):
    path, _, query = path.partition("?")
    answers = []
    for _ in application({
        "REQUEST_METHOD": "GET", "PATH_INFO": path, "QUERY_STRING": query, "SERVER_NAME": "127.0.0.1",
        "SERVER_PORT": "80", "SERVER_PROTOCOL": "HTTP/1.1", "HTTP_COOKIE": cookie, "HTTP_ACCEPT_ENCODING": "gzip",
        "wsgi.url_scheme": "http", "wsgi.input": BytesIO(), "wsgi.errors": sys.stderr, "wsgi.version": (1, 0),
        "wsgi.multithread": True, "wsgi.multiprocess": True, "wsgi.run_once": False,
    }, lambda status, headers, *more: answers.append(status)):
        pass
    return answers[0].startswith("200")

asked = json.load(sys.stdin)
print(json.dumps(["before any", held("VmRSS")]), flush=True)
for name, addresses in asked["pages"].items():
    if not (copy := os.fork()):
        if sum([ask(address, asked["cookie"]) for address in addresses]):
            print(json.dumps([name, held("VmHWM")]), flush=True)
        os._exit(0)
    os.waitpid(copy, 0)
"""


class Command(BaseCommand):
    help = "What each page holds at most. Exits 1 when one holds more than it may."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=5_000, help="horns of the school (200 to 100,000)")

    def handle(self, *args: Any, horns: int, **options: Any) -> None:
        horns = min(max(horns, 200), 100_000)
        with own_database() as folder:
            head, addresses = furnished(horns)
            cookie = "; ".join(f"{name}={value}" for name, value in signed_in(User.objects.get(pk=head)).items())
            asked = {**{name: [address] for name, address in addresses.items()}, "all": list(addresses.values())}
            connection.close()
            said = subprocess.run(
                [sys.executable, "-c", WORKER],
                cwd=ROOT,
                env=prepared(folder),
                check=True,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                input=json.dumps({"cookie": cookie, "pages": asked}),
                text=True,
            )
        each = dict[str, float](json.loads(line) for line in said.stdout.splitlines())
        rest, together = each.pop("before any"), each.pop("all")
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


def furnished(horns: int) -> tuple[int, dict[str, str]]:
    """A head's key and what they may read, of a school made in another process, which takes what that held with it."""
    connection.close()
    copies = multiprocessing.get_context("fork")
    ours, theirs = copies.Pipe()
    maker = copies.Process(target=making, args=(theirs, horns))
    maker.start()
    theirs.close()
    told = cast("tuple[int, dict[str, str]]", ours.recv())
    maker.join()
    return told


def making(line: Connection, horns: int) -> None:
    world = school_of(horns)
    names = (name for name in SCHOOL_PAGES if Role.HEAD in DOORS[name].read)
    pages = {name: world.address(name) for name in names}
    # A large school is told what to buy only where it asks for that.
    pages["with what to buy"] = f"{pages['reports:yearly-report']}?buy=1"
    line.send((world.people[Role.HEAD].pk, pages))
    connection.close()
