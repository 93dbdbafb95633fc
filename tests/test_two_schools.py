"""Every page opens to all who may read it and shows no row of another school: all addresses, and what they lead to."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from html import unescape
from io import BytesIO
from itertools import count
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit
from zipfile import ZipFile

import pytest
from django.db import transaction
from django.test import Client
from django.urls import resolve, reverse
from pypdf import PdfReader

from fleet.counting.models import Find, Line
from fleet.desk.urls import ACTS
from fleet.ground.access import DOORS, SETTINGS, Role
from fleet.lending.models import PastLoan
from fleet.letters.actions.calendar import make_key
from fleet.people.models import Opening
from fleet.workshop.models import Part
from tests import make
from tests.browser_client import Browser
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, STAFF_ROLES, World
from tests.every_state import BAND, TYPED, live, written

# The filter that is tried is the same on either engine; how each searches is tried with its search.
pytestmark = pytest.mark.either_engine

# Whatever the makers of test rows name carries a number: these stand in every name of the one and the other school.
OURS, THEIRS = "33330", "77770"
# Part of THEIRS, so that a search for it finds their rows if anything does.
SEARCH = "777"
# What is written into the fields of a filter.
FILLED = {"search": SEARCH, "text": SEARCH, "number": "60", "date": "2026-06-30"}
# Rows that an address asks for by their key.
ROWS = ("check", "guardian", "horn", "place", "pupil")
# Where a page leads only in two steps.
BESIDES = {
    **{f"desk:several-{act.path}": "?all=1" for act in ACTS},
    "exchange:jobs-out": "?state=done",
    "identify:walk": "?valves=4&step=result",
    "loans:buying": "?budget=9000&years=2&more=1&lasts=30&single=900&double=1900&compact=1000&mend=90&restring=9",
    "register:identified": "?valves=4",
}
# How many ways of asking one page are tried besides the plain one.
MOST_WAYS = 12
# What differs each time though nothing changed: proofs and keys of forms, the seconds until a session ends, the moment
# a workbook was written at.
TOKEN = re.compile(
    r"\b\w{64}\b|\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b|(?<=data-over-after=\")\d+|(?<=data-idle-after=\")\d+"
)
MOMENTS = {"docProps/core.xml", "meta.xml"}
NOTHING_ASKED = "says that nothing was asked for, or leads on at once"
NO_NAMES = "shows nothing that rows are told by"
# Pages that show no row of their own school, so that they could show none of another.
WITHOUT_ROWS = {
    "along:along": NO_NAMES,
    "along:cupboard": NO_NAMES,
    "along:manifest": NO_NAMES,
    "along:scales": NO_NAMES,
    "along:worker": NO_NAMES,
    "counting:find-undo": NOTHING_ASKED,
    "counting:sent": NOTHING_ASKED,
    "counting:sign": NOTHING_ASKED,
    "counting:undo": NOTHING_ASKED,
    "desk:chart-xml": NO_NAMES,
    "desk:guide": NO_NAMES,
    "desk:guide-build": NO_NAMES,
    "desk:several": NOTHING_ASKED,
    "exchange:closing": NO_NAMES,
    "exchange:closing-agree": NOTHING_ASKED,
    "exchange:rows": NOTHING_ASKED,
    "loans:agreement": NO_NAMES,
    "loans:buying": NO_NAMES,
    "loans:calendar": NO_NAMES,
    "loans:letter-words": NO_NAMES,
    "loans:mouthpiece-of": NOTHING_ASKED,
    "loans:names-kept": NO_NAMES,
    "loans:note-away": NOTHING_ASKED,
    "loans:return-of": NOTHING_ASKED,
    "loans:sheets-away": NOTHING_ASKED,
    "loans:signed-sheet": "a picture",
    "loans:agreement-own": NO_NAMES,
    "people:guardian-looked": NOTHING_ASKED,
    "people:holiday-new": NO_NAMES,
    "people:settings": NO_NAMES,
    **{f"people:settings-{name}": NO_NAMES for name in SETTINGS if name not in {"year", "staff"}},
    "people:staff-new": NO_NAMES,
    "register:label-sheet": NO_NAMES,
    "register:photograph": "a picture",
    "register:place-new": NO_NAMES,
    "register:sound": NOTHING_ASKED,
    "reports:agreement": NO_NAMES,
    "reports:batch-sheets": NOTHING_ASKED,
    "reports:build-cards": NO_NAMES,
    "reports:checks-poster": NO_NAMES,
    "workshop:bench-move": NOTHING_ASKED,
    "workshop:care-back": NOTHING_ASKED,
    "workshop:check-photograph": "a picture",
    "workshop:invoice": "a picture",
    "workshop:job-approve": NOTHING_ASKED,
    "workshop:job-clock": NOTHING_ASKED,
    "workshop:job-fault": NOTHING_ASKED,
    "workshop:job-work": NOTHING_ASKED,
    "workshop:labour": NO_NAMES,
    "workshop:job-fetched": NOTHING_ASKED,
    "workshop:job-part": NOTHING_ASKED,
    "workshop:job-quote": NOTHING_ASKED,
    "workshop:mended-now": NOTHING_ASKED,
    "workshop:part-came": NOTHING_ASKED,
    "workshop:part-new": NO_NAMES,
    "workshop:parts-ordered": NOTHING_ASKED,
}


def build(mark: str) -> World:
    """A school with one of everything, every name of it with the mark, but its own and its address."""
    named = make.school(slug=f"place-{mark[0]}", name=f"Place {mark[0]}", approve_above=100)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(make, "_numbers", count(int(mark) * 100))
        patched.setattr(make, "school", lambda: named)
        world = World()
        head = world.people[Role.HEAD]
        late = make.pupil(named, make.guardian(named), group=BAND)
        make.loan(make.horn(named), late, head, issued_on=date(2025, 9, 1), due_on=date(2026, 6, 30))
        world.pupil.group = f"Class {mark}"
        world.pupil.save()
        make.keep([world.horn])
        # Seen at another place than its own, so that it may be said to have moved.
        Line.objects.filter(count=world.count).update(outcome="elsewhere")
        Find.objects.filter(pk=world.find.pk).update(words=TYPED)
        # Too few there, so that it stands on the list of what to order.
        Part.objects.filter(pk=world.part.pk).update(minimum=50)
        world.list = written(named, head, f"Maker {mark}")
        PastLoan.objects.create(horn=world.horn, pupil=world.pupil, issued_on=make.TODAY, returned_on=make.TODAY)
        Opening.objects.create(school=named, pupil=world.pupil, page="people:pupil-edit", by=head, at=make.NOW)
        if mark == THEIRS:
            live(world)
    return world


@pytest.fixture
def ours(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    return build(OURS)


def said(answer: Any) -> str:
    """All of an answer that is about rows: of a page, a print, a file of any kind."""
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if body.startswith(b"PK"):
        with ZipFile(BytesIO(body)) as packed:
            return "\n".join(packed.read(name).decode("latin-1") for name in packed.namelist() if name not in MOMENTS)
    return body.decode("latin-1") if body.startswith(b"%PDF") else TOKEN.sub("", body.decode("utf-8"))


def words(text: str) -> str:
    """What a person can read of it."""
    if text.startswith("%PDF"):
        pages = PdfReader(BytesIO(text.encode("latin-1"))).pages
        return "\n".join(page.extract_text() for page in pages)
    inside = re.search(r"<main.*</main>", text, re.S)
    return inside.group() if inside else text


def ways_on(address: str, text: str) -> Iterator[str]:
    """The addresses with a query that a page leads to: its links, and each choice of each of its GET forms."""
    for link in re.findall(r'href="([^"#]*)', text):
        link = unescape(link)
        if link.startswith("?"):
            yield address.partition("?")[0] + link
        elif link.startswith("/s/") and "?" in link:
            yield link
    for opening, form in re.findall(r"<form([^>]*)>(.*?)</form>", text, re.S):
        if 'method="get"' not in opening:
            continue
        goal = re.search(r'action="([^"?]*)', opening)
        at = goal.group(1) if goal else address
        for name, choices in re.findall(r'<select[^>]*name="(\w+)"[^>]*>(.*?)</select>', form, re.S):
            options = re.findall(r'<option(?:[^>]*value="([^"]*)")?[^>]*>([^<]*)', choices)
            for value in dict.fromkeys([(said or shown.strip()) for said, shown in [*options[:3], *options[-1:]]]):
                yield f"{at}?{urlencode({name: unescape(value)})}"
        for tag in re.findall(r"<(?:input|button)[^>]*>", form):
            if name := re.search(r'name="(\w+)"', tag):
                value = re.search(r'value="([^"]+)"', tag)
                kind = re.search(r'type="(\w+)"', tag)
                said = FILLED.get(kind.group(1) if kind else "text") or (value.group(1) if value else "on")
                yield f"{at}?{urlencode({name.group(1): said})}"


class Walk:
    """What one person sees of all pages they may read."""

    def __init__(self, world: World, person: Any) -> None:
        self.world = world
        self.client = Browser()
        self.client.come_as(person)
        self.seen: dict[str, dict[str, str]] = defaultdict(dict)
        self.status: dict[str, int] = {}

    def begin(self, names: list[str], *, on: bool = True) -> Walk:
        """Opens these pages, and goes `on` to what they lead to."""
        for name in names:
            self.ask(address := self.world.address(name))
            assert self.status[address] in {200, 302, 405}, (name, self.status[address])
            if name in BESIDES:
                self.ask(self.world.address(name) + BESIDES[name])
        for name in names if on else []:
            for address, text in list(self.seen[name].items()):
                for way in ways_on(address, words(text) if "<main" in text else ""):
                    self.ask(way)
        return self

    def ask(self, address: str) -> None:
        parts = urlsplit(address)
        match = resolve(parts.path)
        name = match.view_name
        address = f"{parts.path}?{parts.query}" if parts.query else parts.path
        if address in self.seen[name] or len(self.seen[name]) > MOST_WAYS or name not in DOORS:
            return
        self.seen[name][address] = self.answer(address)

    def answer(self, address: str) -> str:
        """What is answered, without a trace of the asking. An error of the site is raised by the client."""
        with transaction.atomic():
            answer = self.client.get(address)
            self.status[address] = answer.status_code
            told = [said(answer), answer.headers.get("Location", "")]
            transaction.set_rollback(True)
        # What the next page would be told to say is told here, and not there; the moment and its proof come after it.
        messages = self.client.cookies.pop("messages", None)
        return "\n".join([*told, messages.value.partition(":")[0] if messages else ""])

    def changed(self) -> dict[str, list[str]]:
        """The addresses that are answered otherwise by now, with the lines that were not there before."""
        asked = [(at, told, self.answer(at)) for pages in self.seen.values() for at, told in pages.items()]
        return {at: sorted({*now.split("\n")} - {*told.split("\n")}) for at, told, now in asked if now != told}

    def reached(self, other: World) -> list[str]:
        """The addresses that show something of the other school when its row is asked for in place of ours."""
        ways = {
            (urlsplit(at).path, name)
            for pages in self.seen.values()
            for at in pages
            for name, _ in parse_qsl(urlsplit(at).query)
            if name in ROWS
        }
        asked = [f"{path}?{name}={getattr(other, name).pk}" for path, name in sorted(ways)]
        return [at for at in asked if THEIRS in words(self.answer(at))]

    def showing(self, mark: str) -> set[str]:
        """The pages that say the mark somewhere."""
        return {name for name, pages in self.seen.items() if any(mark in words(told) for told in pages.values())}


def readable(role: Role) -> list[str]:
    return [name for name in SCHOOL_PAGES if role in DOORS[name].read]


def test_no_page_changes_for_a_head_when_another_school_fills(ours: World):
    walk = Walk(ours, ours.people[Role.HEAD]).begin(readable(Role.HEAD))
    # What shows no row of our own would not show one of theirs either.
    assert set(readable(Role.HEAD)) - walk.showing(OURS) == set(WITHOUT_ROWS)

    theirs = build(THEIRS)

    assert walk.changed() == {}
    assert walk.reached(theirs) == []


def test_no_page_changes_for_others_of_the_staff_when_another_school_fills(ours: World):
    others = [role for role in STAFF_ROLES if role != Role.HEAD]
    # What shows no row to a head shows them none.
    walks = {
        role: Walk(ours, ours.people[role]).begin([one for one in readable(role) if one not in WITHOUT_ROWS], on=False)
        for role in others
    }

    build(THEIRS)

    assert {role: walk.changed() for role, walk in walks.items()} == {role: {} for role in others}


def test_heads_read_whatever_others_of_the_staff_read():
    """So it is enough that they follow what pages lead to."""
    assert [name for name in SCHOOL_PAGES if Role.HEAD not in DOORS[name].read] == []


def test_no_page_of_a_family_and_no_calendar_changes_when_another_school_fills(ours: World):
    walk = Walk(ours, ours.guardian.user).begin(FAMILY_PAGES)
    calendar = reverse("calendar-feed", args=[make_key(school=ours.school, user=ours.people[Role.HEAD], at=make.NOW)])
    before = said(Client().get(calendar))
    assert "desk:family" in walk.showing(OURS)
    assert OURS in before

    build(THEIRS)

    assert walk.changed() == {}
    assert said(Client().get(calendar)) == before
