"""No page of a school shows a row of another: every address is walked, with what its links and filters lead to."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from html import unescape
from io import BytesIO
from itertools import count
from typing import Any
from urllib.parse import urlencode, urlsplit
from zipfile import ZipFile

import pytest
from django.test import Client
from django.urls import resolve, reverse
from pypdf import PdfReader

from fleet.ground.access import DOORS, Role
from fleet.letters.actions.calendar import make_key
from fleet.people.models import Opening, Pupil
from tests import make
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, STAFF_ROLES, World

# Whatever the makers of test rows name carries a number: these stand in every name of the one and the other school.
OURS, THEIRS = "33330", "77770"
# Part of THEIRS, so that a search for it finds their rows if anything does, while the page that repeats it has no mark.
SEARCH = "777"
# What is written into the fields of a filter.
FILLED = {"search": SEARCH, "text": SEARCH, "number": "60", "date": "2026-06-30"}
# How many ways of asking one page are tried besides the plain one.
MOST_WAYS = 25
NOTHING_ASKED = "says that nothing was asked for, or leads on at once"
NO_NAMES = "shows nothing that rows are told by"
# Pages that show no row of their own school, so that they could show none of another.
WITHOUT_ROWS = {
    "counting:find-undo": NOTHING_ASKED,
    "counting:sent": NOTHING_ASKED,
    "counting:sign": NOTHING_ASKED,
    "counting:undo": NOTHING_ASKED,
    "desk:chart-xml": NO_NAMES,
    "exchange:columns": NO_NAMES,
    "loans:agreement": NO_NAMES,
    "loans:calendar": NO_NAMES,
    "loans:letter-words": NO_NAMES,
    "loans:mouthpiece-of": NOTHING_ASKED,
    "loans:return-of": NOTHING_ASKED,
    "loans:sheets-away": NOTHING_ASKED,
    "people:pupil-new": NO_NAMES,
    "people:staff-new": NO_NAMES,
    "register:identified": NOTHING_ASKED,
    "register:label-sheet": NO_NAMES,
    "register:photograph": "a picture",
    "register:place-new": NO_NAMES,
    "register:sound": NOTHING_ASKED,
    "reports:batch-sheets": NOTHING_ASKED,
    "reports:sheet-to-sign": NOTHING_ASKED,
    "workshop:check-photograph": "a picture",
    "workshop:job-approve": NOTHING_ASKED,
    "workshop:job-part": NOTHING_ASKED,
    "workshop:part-new": NO_NAMES,
}


def build(mark: str, monkeypatch: pytest.MonkeyPatch) -> World:
    """A school with one of everything, every name of it with the mark, but its own and its address."""
    named = make.school(slug=f"place-{mark[0]}", name=f"Place {mark[0]}")
    monkeypatch.setattr(make, "_numbers", count(int(mark) * 100))
    monkeypatch.setattr(make, "school", lambda: named)
    world = World()
    head = world.people[Role.HEAD]
    # One class is called alike in both schools, so that asking for it tells whether the school is asked for too.
    late = make.pupil(named, make.guardian(named), group="Band")
    make.loan(make.horn(named), late, head, issued_on=date(2025, 9, 1), due_on=date(2026, 6, 30))
    monkeypatch.undo()
    Pupil.objects.filter(pk=world.pupil.pk).update(group=f"Class {mark}")
    Opening.objects.create(school=named, pupil=world.pupil, page="people:pupil-edit", by=head, at=make.NOW)
    return world


@pytest.fixture
def ours(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    return build(OURS, monkeypatch)


@pytest.fixture
def theirs(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    return build(THEIRS, monkeypatch)


def words(answer: Any) -> str:
    """All a person can read of an answer: a page, a print, a file of any kind."""
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if body.startswith(b"%PDF"):
        return "\n".join(page.extract_text() for page in PdfReader(BytesIO(body)).pages)
    if body.startswith(b"PK"):
        with ZipFile(BytesIO(body)) as packed:
            return "\n".join(packed.read(name).decode("utf-8", "replace") for name in packed.namelist())
    text = body.decode("utf-8", "replace")
    inside = re.search(r"<main.*</main>", text, re.S)
    return inside.group() if inside else text


def ways_on(address: str, text: str) -> Iterator[str]:
    """The addresses with a query that a page leads to: its links, and each choice of each of its GET forms."""
    for link in re.findall(r'href="([^"#]*)', text):
        link = unescape(link)
        if link.startswith("?"):
            yield address + link
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
        self.client = Client()
        self.client.force_login(person)
        self.seen: dict[str, dict[str, str]] = defaultdict(dict)

    def begin(self, names: list[str]) -> Walk:
        for name in names:
            self.ask(self.world.address(name))
        for name in names:
            for address, text in list(self.seen[name].items()):
                for way in ways_on(address, text):
                    self.ask(way)
        return self

    def ask(self, address: str) -> None:
        parts = urlsplit(address)
        match = resolve(parts.path)
        name = match.view_name
        address = f"{parts.path}?{parts.query}" if parts.query else parts.path
        if address in self.seen[name] or len(self.seen[name]) > MOST_WAYS or name not in DOORS:
            return
        answer = self.client.get(address)
        # A bad question is answered in words; an error of the site is raised by the client.
        self.seen[name][address] = words(answer)

    def with_mark(self, mark: str) -> dict[str, list[str]]:
        """By page the addresses where the mark is read."""
        found = {name: [at for at, text in pages.items() if mark in text] for name, pages in self.seen.items()}
        return {name: pages for name, pages in found.items() if pages}


def readable(role: Role) -> list[str]:
    return [name for name in SCHOOL_PAGES if role in DOORS[name].read]


@pytest.mark.parametrize("role", STAFF_ROLES)
def test_nothing_of_another_school_is_shown_on_any_page(role: Role, ours: World, theirs: World):
    walk = Walk(ours, ours.people[role]).begin(readable(role))

    assert walk.with_mark(THEIRS) == {}
    # What shows no row of our own would not show one of theirs either.
    shown = walk.with_mark(OURS)
    assert {name for name in readable(role) if name not in shown} == set(WITHOUT_ROWS) & set(readable(role))


def test_a_family_is_shown_nothing_of_another_school(ours: World, theirs: World):
    walk = Walk(ours, ours.guardian.user).begin(FAMILY_PAGES)

    assert walk.with_mark(THEIRS) == {}
    assert "desk:family" in walk.with_mark(OURS)


def test_the_calendar_of_due_dates_holds_the_loans_of_its_school_alone(ours: World, theirs: World):
    secret = make_key(school=ours.school, user=ours.people[Role.HEAD], at=make.NOW)

    text = words(Client().get(reverse("calendar-feed", args=[secret])))

    assert (OURS in text, THEIRS in text) == (True, False)
