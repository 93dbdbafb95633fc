"""Asks every page of a school of 200 horns and of one of many, in the same run: which grow with the school? A head
asks, a technician, and a guardian theirs.

Seconds are those of the processor of this process, the least of nine, since whatever else is at work only adds to
them, asked of both schools in turns; on PostgreSQL the server's own are not in them. Beside them the size of what is
sent, compressed as for any browser, and the queries. A page that takes more than one and a half times as long or is a
fifth larger is told, the worst first; prints and files of whole lists grow by what they are and are left out.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from datetime import timedelta
from itertools import product
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.core.management.base import BaseCommand
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.exchange.models import BATCH
from fleet.ground.access import DOORS, Role
from fleet.lending.models import Agreement, Loan, Wish
from fleet.people.models import Guardian, Pupil
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.many import register_many
from fleet.register.models import Place
from fleet.workshop.models import ConditionCheck, FaultReport, Finding, RepairJob
from tests import make
from tests.bench.history import BEGAN, lived, sent
from tests.bench.own_database import own_database, settle, without_manifest
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, World

SMALL = 200
# So many places, classes, jobs, wishes and people called alike at least: a list is full at the small school, too.
FULL = 51
ROUNDS = 9
MORE_TIME, MORE_BYTES = 1.5, 1.2
# What is asked for whole: prints, lists as files, the cupboard taken along, all about one school or one pupil.
WHOLE = ("reports:", "exchange:", "desk:pupil-data", "loans:calendar", "along:kept")
ASK = (Role.HEAD, Role.TECHNICIAN, Role.GUARDIAN)
# The lists that are searched, asked as a phone asks them while somebody types: a name and half of one, a number and how
# people type it, a letter, names and an address that all have, and what none has, one letter first.
SEARCHED = ("register:horns", "loans:loans", "people:pupils", "loans:letters")
TYPED = ("robin", "fam", "bx-00001", "bx16", "a", "given family", "home.example", "z", "zz", "zzz")
AS_TYPED = {"HX-Request": "true", "HX-Target": "found"}
BUILDS = ("single-f", "double-full", "single-bb", "double-compensating")


class Asked(NamedTuple):
    seconds: float
    size: int
    queries: int


class Command(BaseCommand):
    help = "Compare every page of a small school with the same page of a large one. Exits 1 when one grows."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=5_000, help="horns of the large one (400 to 100,000)")

    def handle(self, *args: Any, horns: int, **options: Any) -> None:
        horns = min(max(horns, 2 * SMALL), 100_000)
        with own_database(), without_manifest(ALLOWED_HOSTS=["*"]):
            schools = [school_of(count) for count in (SMALL, horns)]
            settle()
            found = pages_of(schools)
        grown = sorted(
            ((many.seconds / one.seconds, name) for name, (one, many) in found.items() if grows(one, many)),
            reverse=True,
        )
        self.stdout.write(f"{SMALL} horns beside {horns:,}, {connection.vendor}, milliseconds and kilobytes:\n")
        for ratio, name in grown:
            one, many = found[name]
            self.stdout.write(
                f"  {name:40}{one.seconds * 1e3:8.0f}{many.seconds * 1e3:8.0f}{ratio:7.1f}×"
                f"{one.size / 1e3:8.0f}{many.size / 1e3:8.0f}{one.queries:6}{many.queries:6} queries\n"
            )
        self.stdout.write(f"{'MISSED' if grown else 'Reached'}: {len(grown)} of {len(found)} pages grow.\n")
        if grown:
            sys.exit(1)


def grows(one: Asked, many: Asked) -> bool:
    # Under two milliseconds more nobody waits, and the clock itself is no finer.
    slower = many.seconds > MORE_TIME * one.seconds and many.seconds - one.seconds > 0.002
    # An answer is made longer at random, so that its length tells nothing: of a list that is empty by a quarter.
    larger = many.size > MORE_BYTES * one.size and many.size - one.size > 200
    return slower or larger or many.queries > one.queries + 2


def pages_of(worlds: Sequence[World]) -> dict[str, list[Asked]]:
    """What each page takes at each of the schools."""
    found = {}
    for role in ASK:
        browsers = [browser(world, role) for world in worlds]
        pages = (one for one in (*SCHOOL_PAGES, *FAMILY_PAGES) if role in DOORS[one].read)
        for name in (one for one in pages if not one.startswith(WHOLE)):
            addresses = [world.address(name) for world in worlds]
            if asked := in_turns(list(zip(browsers, addresses, strict=True))):
                found[f"{role.value} {name}"] = asked
    browsers = [browser(world, Role.HEAD, **AS_TYPED) for world in worlds]
    for name, words in product(SEARCHED, TYPED):
        addresses = [f"{world.address(name)}?{urlencode({'q': words})}" for world in worlds]
        if asked := in_turns(list(zip(browsers, addresses, strict=True))):
            found[f"{name} {words}"] = asked
    return found


def browser(world: World, role: Role, **headers: str) -> Client:
    """Of somebody of this school who has signed in."""
    client = Client(headers={"accept-encoding": "gzip", **headers})
    who = world.guardian.user if role is Role.GUARDIAN else world.people[role]
    assert who is not None
    client.force_login(who, backend="fleet.people.queries.signed_in.Accounts")
    return client


def in_turns(addresses: Sequence[tuple[Client, str]]) -> list[Asked]:
    """What each takes, asked in turns, since no machine is as quick at one time as at another. Nothing where it is no
    page for them, or comes piece by piece."""
    sent = []
    for client, address in addresses:
        # From time to time the session is written that it is still used: not twice in a row.
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(address)
        if answer.status_code != 200 or answer.streaming:
            return []
        sent.append((len(answer.content), len(queries)))
    took: list[list[float]] = [[] for _ in addresses]
    for _ in range(ROUNDS):
        for (client, address), seconds in zip(addresses, took, strict=True):
            begun = time.process_time()
            client.get(address)
            seconds.append(time.process_time() - begun)
    return [Asked(min(seconds), *told) for seconds, told in zip(took, sent, strict=True)]


def _given(n: int) -> str:
    """As many of any school are called the same."""
    return "Robin" if n < FULL else "Given"


@transaction.atomic
def school_of(count: int) -> World:
    """One with one of everything, and around it so many horns, half of them out, each twentieth to be mended, and
    years behind them."""
    groups, mended, asked = max(count // 25, FULL), max(count // 20, FULL), max(count // 50, FULL)
    world = World()
    school, head = world.school, world.people[Role.HEAD]
    agreement = Agreement.objects.filter(school=school).latest("version")
    places = Place.objects.bulk_create(
        Place(school=school, room=f"Room {n}", shelf=f"Shelf {n % 8}") for n in range(groups)
    )
    pupils = Pupil.objects.bulk_create(
        (
            Pupil(school=school, name=f"{_given(n)} {n} Family {n}", group=f"Class {n % groups}", pupil_id=f"S-{n}")
            for n in range(count)
        ),
        2000,
    )
    for pupil in pupils:
        pupil.derive()
    Pupil.objects.bulk_update(pupils, ["search", "sorted_by"], 500)
    guardians = Guardian.objects.bulk_create(
        (Guardian(school=school, name=f"{_given(n)} {n} Adult", telephone=str(n)) for n in range(count)), 2000
    )
    for one in (world.pupil, world.guardian):
        one.name = f"{_given(0)} Entered"
        one.save()
    links = Pupil.guardians.through
    links.objects.bulk_create(
        (links(pupil_id=pupil.pk, guardian_id=one.pk) for pupil, one in zip(pupils, guardians, strict=True)), 2000
    )
    told = [
        {
            "number": f"BX-{n:06d}",
            "build": BUILDS[n % 4],
            "stands_in": "Bb" if n % 4 == 2 else "F",
            "maker": f"Maker {n % 7}",
            "place": places[n % len(places)],
            "acquired_on": make.TODAY - timedelta(days=365 * (n % 30)),
        }
        for n in range(count)
    ]
    horns = [
        horn
        for start in range(0, count, BATCH)
        for horn in register_many(school=school, particulars=told[start : start + BATCH], by=head, at=BEGAN)
    ]
    lived(world, horns, pupils, guardians, mended=mended)
    ago = make.NOW - timedelta(days=40)
    checks = ConditionCheck.objects.bulk_create(
        (
            ConditionCheck(horn=horn, at=ago, by=head, grade=3 if n % (count // mended) == 1 else 1, finish_grade=2)
            for n, horn in enumerate(horns)
        ),
        2000,
    )
    jobs = RepairJob.objects.bulk_create(
        (RepairJob(school=school, horn=horn, opened_at=ago, opened_by=head) for horn in horns[1 :: count // mended]),
        2000,
    )
    Finding.objects.bulk_create(
        Finding(check_made=check, school=school, fault="string-broken", severity="r", job=job)
        for check, job in zip(checks[1 :: count // mended], jobs, strict=True)
    )
    loans = Loan.objects.bulk_create(
        (
            Loan(
                school=school,
                horn=horns[n],
                pupil=pupils[n],
                guardian=guardians[n],
                agreement=agreement,
                signed_on=ago.date(),
                issued_on=ago.date(),
                issued_by=head,
                due_on=make.TODAY + timedelta(days=200 if n % 10 else -5),
                check_at_issue=checks[n],
                stands_in=horns[n].stands_in,
            )
            for n in range(0, count, 2)
        ),
        2000,
    )
    sent(school, loans, ago)
    FaultReport.objects.bulk_create(
        FaultReport(horn=horns[n], pupil=pupils[n], by=head, at=ago, words="It sticks.")
        for n in range(0, count, count // asked)
    )
    Wish.objects.bulk_create(
        Wish(school=school, pupil=pupils[n], family="horn", since=ago.date(), made_at=ago, made_by=head)
        for n in range(3, count, count // asked)
    )
    keep_all(horn.pk for horn in horns)
    return world
