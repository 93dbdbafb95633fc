"""Twenty clerks and two hundred phones at once, on a site served as README and `deploy` have it served.

SQLite: what `make run` starts. PostgreSQL (DATABASE_URL): two gunicorns of `deploy` on one database, as on two
machines. Clerks hand out and take back; one half of the phones count, the other half look horns over. A clerk asks for
a page every five seconds and a phone every ten (assumed, no source): that is how people work, and whoever asks without
a pause measures only how long the queue is. Beside them a bare view (`/alive/`) is asked for all the while.

Told are seconds of the clock, since waiting is what is measured: only the bare view's of the same run says what they
are worth. Nothing may fail, and what was taken must be there: each tap a row, each look a check, each horn out a loan.
"""

from __future__ import annotations

import argparse
import json
import sys
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from functools import partial
from http.client import HTTPConnection, HTTPException
from itertools import cycle
from statistics import quantiles
from typing import Any, NoReturn, TypeAlias
from urllib.parse import urlencode
from uuid import uuid4

import lxml.html
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection

from fleet.counting.actions.counts import begin
from fleet.counting.models import Sighting
from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.register.models import Horn, Place
from fleet.workshop.models import ConditionCheck
from tests import make
from tests.bench.own_database import own_database
from tests.bench.pages import school_of
from tests.bench.served.site import served, signed_in
from tests.doors import World

CLERK_EVERY, PHONE_EVERY, BARE_EVERY = 5.0, 10.0, 0.1
# Seconds until the last worker of gunicorn has read the site, too: a restart is not what is measured.
READ_BY = 10


# What somebody does, given the browser they do it with; a page a step.
Act: TypeAlias = "Callable[[Person], Iterator[None]]"


class Failed(Exception):
    """An answer that should not have been; it is put down where it came."""


class Seen:
    """What all of them saw: seconds of each kind of answer, what failed, and how much of each kind was taken."""

    def __init__(self) -> None:
        self.seconds: dict[str, list[float]] = defaultdict(list)
        self.failures: list[str] = []
        self.taken: Counter[str] = Counter()
        self.lock = threading.Lock()

    def answered(self, what: str, seconds: float) -> None:
        with self.lock:
            self.seconds[what].append(seconds)

    def failed(self, words: str) -> None:
        with self.lock:
            self.failures.append(words)

    def took(self, what: str) -> None:
        with self.lock:
            self.taken[what] += 1


class Person:
    """Somebody with a browser. Each request has a connection of its own, as behind the proxy of `deploy`."""

    def __init__(self, port: int, cookies: dict[str, str], seen: Seen) -> None:
        self.cookies = dict(cookies)
        self.port = port
        self.seen = seen

    def ask(self, what: str, path: str, body: str | None = None, wanted: int = 200, **more: str) -> tuple[str, str]:
        """(the page, where it leads) of an answer; one of another status has failed."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()), **more}
        if body is not None:
            kind = "application/json" if body.startswith("{") else "application/x-www-form-urlencoded"
            headers["Content-Type"] = kind
        line = HTTPConnection("127.0.0.1", self.port, timeout=60)
        begun = time.monotonic()
        try:
            line.request("GET" if body is None else "POST", path, body, {**headers, "Connection": "close"})
            answer = line.getresponse()
            page = answer.read().decode(errors="replace")
        except (OSError, HTTPException) as trouble:
            self.seen.failed(f"{what}: {trouble!r}")
            raise Failed from trouble
        finally:
            line.close()
        self.seen.answered(what, time.monotonic() - begun)
        for cookie in answer.headers.get_all("Set-Cookie") or ():
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        if answer.status != wanted:
            self.no(f"{what}: {answer.status} for {path}", page)
        return page, answer.headers.get("Location", "")

    def no(self, words: str, page: str) -> NoReturn:
        said = " ".join(lxml.html.fromstring(page).text_content().split()) if page else ""
        self.seen.failed(f"{words}: {said[:600]}")
        raise Failed

    def filled(self, page: str, having: str, **changed: str) -> tuple[str, str]:
        """(address, body) of the page's form with that field, as a browser would send it, but for `changed`."""
        for form in lxml.html.fromstring(page).forms:
            if form.method == "POST" and having in form.fields:
                break
        else:
            self.no(f"no {having}", page)
        kept = [(name, value) for name, value in form.form_values() if name not in changed]
        return form.action or "", urlencode([*kept, *changed.items()])


def proof(page: str) -> str:
    return str(lxml.html.fromstring(page).xpath("//input[@name='csrfmiddlewaretoken']/@value")[0])


def clerk(world: World, horns: list[int], pupils: list[tuple[int, int]], one: Person) -> Iterator[None]:
    """Hands a horn out and takes it back, and so on; each step asks for one page."""
    here = f"/s/{world.school.slug}/loans/"
    for horn, (pupil, guardian) in zip(cycle(horns), cycle(pupils), strict=False):
        due = date.today() + timedelta(days=100)
        terms = {"horn": horn, "pupil": pupil, "guardian": guardian, "due_on": due, "accessories": "case"}
        page, _ = one.ask("to sign", f"{here}issue/?{urlencode({**terms, 'then': 'sign'})}")
        yield
        address, body = one.filled(page, "signed_on", signed="on")
        _, loan = one.ask("hand out", f"{here}issue/{address}", body, wanted=302)
        one.seen.took("hand out")
        yield
        one.ask("a loan", loan)
        yield
        page, _ = one.ask("to take back", f"{loan}return/")
        yield
        _, body = one.filled(page, "returned_on", finish_grade="2", mouthpiece_cleaned_on=str(date.today()))
        one.ask("take back", f"{loan}return/", body, wanted=302)
        yield


def counting(world: World, count: int, place: int, horns: list[int], one: Person) -> Iterator[None]:
    """Opens a shelf and taps what is there; the page sends each tap by itself."""
    here = f"/s/{world.school.slug}/counts/{count}/"
    page, _ = one.ask("a shelf", f"{here}shelf/?place={place}")
    yield
    for horn in cycle(horns):
        tap = {"key": str(uuid4()), "horn": horn, "place": place, "waited": 0}
        headers = {"X-CSRFToken": proof(page), "X-Sent-By": "kept"}
        one.ask("tap", f"{here}sent/?place={place}", json.dumps({"taps": [tap]}), wanted=201, **headers)
        one.seen.took("tap")
        yield


def looking_over(world: World, horns: list[int], one: Person) -> Iterator[None]:
    """Looks horns over: the page of each, then what was found."""
    for horn in cycle(horns):
        address = f"/s/{world.school.slug}/horns/{horn}/check/"
        page, _ = one.ask("to look over", address)
        yield
        _, body = one.filled(page, "notes", finish_grade="2")
        one.ask("look over", address, body, wanted=302)
        one.seen.took("look over")
        yield


def bare(one: Person) -> Iterator[None]:
    while True:
        one.ask("bare view", "/alive/")
        yield


def begin_anew(act: Act, port: int, cookies: dict[str, str], seen: Seen) -> Iterator[None]:
    yield from act(Person(port, cookies, seen))
    # Without horns or pupils for it: nobody is done before the others.
    seen.failed("nothing to do")
    raise Failed


def at_work(steps: Callable[[], Iterator[None]], every: float, begins: float, until: float) -> None:
    """Takes a step each so many seconds; whoever's step failed begins anew, as somebody who loads the page again."""
    work, due = steps(), begins
    while due < until:
        time.sleep(max(0, due - time.monotonic()))
        try:
            next(work)
        except Failed:
            work = steps()
        due += every


class Command(BaseCommand):
    help = "Let clerks and phones at the site at once. Exits 1 when an answer fails or something taken is not there."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--horns", type=int, default=2_000, help="horns of the school (1,000 and more)")
        parser.add_argument("--clerks", type=int, default=20)
        parser.add_argument("--phones", type=int, default=200)
        parser.add_argument("--seconds", type=int, default=60, help="how long they are at work")

    def handle(self, *args: Any, horns: int, clerks: int, phones: int, seconds: int, **options: Any) -> None:
        seen = Seen()
        with own_database() as folder:
            call_command("createcachetable", verbosity=0)
            world = school_of(max(horns, 1_000))
            acts = people_of(world, clerks, phones)
            before = rows()
            with served(folder) as ports:
                begun = time.monotonic() + READ_BY
                threads = [
                    threading.Thread(
                        target=at_work,
                        args=(
                            partial(begin_anew, act, ports[n % len(ports)], cookies, seen),
                            every,
                            begun + every * n / len(acts),
                            begun + seconds,
                        ),
                    )
                    for n, (act, cookies, every) in enumerate(acts)
                ]
                for one in threads:
                    one.start()
                for one in threads:
                    one.join()
            wrong = [
                f"{what}: {seen.taken[what]} were taken, {now - before[what]} are there"
                for what, now in rows().items()
                if now - before[what] != seen.taken[what]
            ]
        self.tell(seen, clerks, phones, seconds, [*seen.failures, *wrong])

    def tell(self, seen: Seen, clerks: int, phones: int, seconds: int, wrong: list[str]) -> None:
        asked = sum(map(len, seen.seconds.values()))
        self.stdout.write(
            f"{clerks} clerks and {phones} phones for {seconds} s, {connection.vendor}: {asked} answers, "
            f"{asked / seconds:.0f} a second; milliseconds, half of them within, 99 of 100 within, the longest:\n"
        )
        for what, took in sorted(seen.seconds.items(), key=lambda one: max(one[1])):
            cuts = quantiles(took, n=100, method="inclusive") if len(took) > 1 else took * 99
            figures = [cuts[49], cuts[98], max(took)]
            self.stdout.write(f"  {what:14}{len(took):7}" + "".join(f"{one * 1e3:9.0f}" for one in figures) + "\n")
        for words in wrong[:20]:
            self.stdout.write(f"  {words}\n")
        self.stdout.write(f"{'MISSED' if wrong else 'Reached'}: {len(wrong)} failed or lost.\n")
        if wrong:
            sys.exit(1)


def rows() -> dict[str, int]:
    """How many there are of each thing taken. That no horn is out twice holds a constraint of the database."""
    return {
        "hand out": Loan.objects.count(),
        "look over": ConditionCheck.objects.exclude(occasion=ConditionCheck.Occasion.ON_RETURN).count(),
        "tap": Sighting.objects.count(),
    }


def people_of(world: World, clerks: int, phones: int) -> list[tuple[Act, dict[str, str], float]]:
    """(what they do, with which cookies, how often) of everybody, with horns of their own."""
    school = world.school
    free = list(Horn.objects.at(school).may_be_lent().order_by("pk").values_list("pk", flat=True))
    mine = [free[n :: clerks + phones] for n in range(clerks + phones)]
    playing = Loan.objects.open().filter(school=school).values("pupil")
    without = Pupil.objects.filter(school=school, guardians__isnull=False).exclude(pk__in=playing).order_by("pk")
    signing = list(without.values_list("pk", "guardians"))
    places = list(Place.objects.filter(school=school).exclude(pk=world.place.pk).order_by("pk"))
    count = begin(school=school, places=places, by=world.people[Role.HEAD], at=make.NOW).pk
    lying = defaultdict(list)
    for place, horn in Horn.objects.at(school).filter(place__in=places, pk__in=free).values_list("place", "pk"):
        lying[place].append(horn)
    shelves = cycle(sorted(lying.items()))
    acts: list[Act] = [partial(clerk, world, mine[n], signing[n::clerks]) for n in range(clerks)]
    for n in range(clerks, clerks + phones):
        acts.append(partial(counting, world, count, *next(shelves)) if n % 2 else partial(looking_over, world, mine[n]))
    return [
        (bare, {}, BARE_EVERY),
        *(
            (act, signed_in(make.staff(Role.TEACHER, school)), CLERK_EVERY if n < clerks else PHONE_EVERY)
            for n, act in enumerate(acts)
        ),
    ]
