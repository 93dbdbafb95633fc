"""Asks the pages of a large school and of one ten times as large: a million horns should take no more than 100,000.

Each school is furnished and asked in a process of its own, on SQLite in a database of its own; the pages are asked for
in turns, the least of some rounds, since whatever else is at work only adds to them. Milliseconds are those of the
process's processor. What each school holds says `enlarging`. A search finds as many horns in either, but for that
of the common maker: it takes longer the more it finds, up to a thousand.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import time
from contextlib import ExitStack, suppress
from multiprocessing.connection import Connection
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.test import Client

from fleet.ground.paging import LAST_PAGE
from tests.bench.own_database import own_database, without_manifest
from tests.bench.pace import pace
from tests.bench.served.enlarging import BLOCK, enlarged

# The pages, by the number of the horn in the middle.
PAGES = {
    "first page": "horns/",
    "sorted by last check": "horns/?sort=checked",
    "sorted by due date": "horns/?sort=due",
    "sorted by grade, worst first": "horns/?sort=-grade",
    "the last page shown": f"horns/?page={LAST_PAGE}",
    "sorted by place, the last page shown": f"horns/?sort=place&page={LAST_PAGE}",
    "search a number": "horns/?q=HN-{number}",
    "search a rare maker": "horns/?q=quillfeather",
    "search a common maker": "horns/?q=workshop",
    "search a pupil": "horns/?q=pupil+001234",
    "search what is not there": "horns/?q=zzyzx",
    "loans": "loans/",
    "pupils": "pupils/",
    "walk step": "identify/?valves=4&slide_sets=2",
    "Today": "",
}
# So many times as long a page may take, and so many milliseconds more nobody notices and no clock tells.
MOST, UNNOTICED = 1.2, 1.0
# Milliseconds a page may take, however many horns there are.
LONGEST = {"walk step": 12.0}


class Command(BaseCommand):
    help = "Compare the pages of a school with those of one ten times as large. Exits 1 when one takes longer."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=1_000_000, help="of the larger (10,000 to 1,000,000)")
        parser.add_argument("--rounds", type=int, default=9, help="how often each page is asked (3 to 100)")

    def handle(self, *args: Any, horns: int, rounds: int, **options: Any) -> None:
        horns, rounds = min(max(horns, BLOCK), 1_000_000), min(max(rounds, 3), 100)
        horns -= horns % (10 * BLOCK if horns > 10 * BLOCK else BLOCK)
        if connection.vendor != "sqlite":
            raise CommandError("Two databases at once are made on SQLite alone.")
        # Begun as copies of this process, which has read the site and opened nothing yet.
        copies = multiprocessing.get_context("fork")
        with ExitStack() as running:
            schools = []
            for count in (horns // 10, horns):
                ours, theirs = copies.Pipe()
                school = copies.Process(target=answering, args=(theirs, count))
                school.start()
                running.callback(school.join)
                running.callback(ours.send, None)
                schools.append(ours)
            made = [school.recv() for school in schools]
            self.stdout.write(f"{horns // 10:,} horns beside {horns:,}, made in {made[0]:.0f} and {made[1]:.0f} s:\n")
            missed, slower = [], pace()
            for name in PAGES:
                took: list[list[float]] = [[], []]
                for turn in range(-1, rounds):
                    for side in (0, 1) if turn % 2 else (1, 0):
                        schools[side].send(name)
                        ms = schools[side].recv()
                        took[side] += [ms] if turn >= 0 else []
                one, ten = map(min, took)
                bad = (ten > MOST * one and ten - one > UNNOTICED * slower) or ten > LONGEST.get(name, ten) * slower
                missed += [name] if bad else []
                self.stdout.write(f"  {name:30}{one:8.1f}{ten:8.1f} ms{ten / one:7.2f}{' MISSED' if bad else ''}\n")
                self.stdout.flush()
        self.stdout.write(f"{'MISSED: ' + ', '.join(missed) if missed else 'Reached'}: at most {MOST} times.\n")
        if missed:
            sys.exit(1)


def answering(line: Connection, horns: int) -> None:
    """A school's process: says when it is furnished, then what each page took that it is asked for, until None."""
    began = time.monotonic()
    with own_database(), without_manifest(ALLOWED_HOSTS=["*"]):
        head = enlarged(horns)
        client = Client()
        client.force_login(head)
        line.send(time.monotonic() - began)
        # Asked in turns, on one and the same processor where that can be said: another may be as much slower.
        with suppress(AttributeError, OSError):
            os.sched_setaffinity(0, {0})
        while (name := line.recv()) is not None:
            address = f"/s/bench/{PAGES[name].format(number=f'{horns // 2:06d}')}"
            started = time.process_time()
            answer = client.get(address)
            took = time.process_time() - started
            if answer.status_code != 200:
                raise RuntimeError(f"{address} answered {answer.status_code}.")
            line.send(took * 1e3)
