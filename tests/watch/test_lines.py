"""What is written down: read over all pages of a school, with what people type, search for and hold as keys."""

from __future__ import annotations

import json
import logging
import re
from io import StringIO
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from fleet.ground.access import Role
from fleet.letters.actions.calendar import make_key
from fleet.mail.actions.errands import beside
from fleet.watch.lines import REQUEST, Hook
from tests import make
from tests.browser_client import Browser
from tests.doors import FAMILY_PAGES, SCHOOL_PAGES, World

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
TYPED, CODE = "Quillfeather", "1234-5678"
Lines = list[dict[str, Any]]


def lines(written: dict[str, StringIO]) -> Lines:
    return [json.loads(one) for one in written["json"].getvalue().splitlines()]


@pytest.fixture
def breaks(monkeypatch):
    """A page that breaks over a row, as a database tells it: with the row's values."""

    def broken(*_: object) -> None:
        try:
            raise IntegrityError(f"Key (email)=({TYPED}@example.org) already exists.")
        except IntegrityError as cause:
            raise ValueError(TYPED) from cause

    monkeypatch.setattr("fleet.letters.pages.calendar.key_of", broken)
    return "/calendar/{}.ics"


def walked(client: Client, addresses: list[str]) -> None:
    for address in addresses:
        client.get(address, {"q": TYPED, "search": TYPED, "pupil": TYPED})
        client.post(address, {"name": TYPED, "email": f"{TYPED}@example.org", "words": TYPED})


@pytest.mark.either_engine
def test_over_all_pages_nothing_is_written_down_of_who_asked_for_what(written, settings):
    settings.SITE_ORIGIN = "https://horns.example.org"
    world = World()
    head = world.people[Role.HEAD]
    taken_back = make_key(school=world.school, user=head, at=make.NOW)
    in_use = make_key(school=world.school, user=head, at=make.NOW)
    people = [*world.people.values(), world.guardian.user, world.guardian, world.pupil]
    secrets = {getattr(one, field, "") for one in people for field in ("name", "email", "pupil_id")} - {""}
    secrets |= {TYPED, CODE, taken_back, in_use, world.school.slug, world.horn.number, world.horn.label_code}

    # Before anything is posted: a row may be gone afterwards.
    schools, familys = ([world.address(name) for name in names] for names in (SCHOOL_PAGES, FAMILY_PAGES))
    walked(entered(world.guardian.user), familys)
    walked(entered(world.people[Role.TECHNICIAN]), [world.address("people:pupils")])
    walked(entered(head), schools)
    stranger = Client(enforce_csrf_checks=True, raise_request_exception=False)
    calendars = [f"/calendar/{key}.ics" for key in (taken_back, in_use, TYPED)]
    for path in (*calendars, f"/not-me/{TYPED}/", f"/{TYPED}/", f"/s/{TYPED}/", f"/static/{TYPED}.css"):
        stranger.get(path, headers={"X-Request-ID": TYPED, "User-Agent": TYPED, "Referer": TYPED})
        stranger.post(path, {"code": CODE})
        stranger.get(path, headers={"Host": f"{TYPED.lower()}.example.org"})
    known = Client()
    for email in (head.email, f"{TYPED}@example.org"):
        known.post(reverse("account_login"), {"login": email, "password": TYPED})
        known.post(reverse("account_request_login_code"), {"email": email})
        known.post(reverse("account_confirm_login_code"), {"code": CODE})

    said = re.sub(r"\b[0-9a-f]{32}\b", "", "".join(stream.getvalue() for stream in written.values())).lower()
    assert {one for one in secrets if str(one).lower() in said} == set()
    assert {one["page"] for one in lines(written) if "page" in one} > {*SCHOOL_PAGES, *FAMILY_PAGES, "calendar-feed"}
    assert {one["logger"] for one in lines(written)} >= {"fleet", "django.request", "django.security.DisallowedHost"}


def entered(person: Any) -> Browser:
    client = Browser(raise_request_exception=False)
    client.come_as(person)
    return client


@pytest.mark.parametrize("origin", ["https://horns.example.org", ""])
def test_what_breaks_is_told_by_its_kind_and_place_and_its_words_to_a_terminal_of_ones_own_alone(
    written, settings, breaks, origin
):
    settings.SITE_ORIGIN = origin
    answer = Client(raise_request_exception=False).get(breaks.format("a-key"))

    [one] = [one for one in lines(written) if "trouble" in one]
    kinds = [said for said in one["trouble"] if ":" not in said]
    assert kinds == ["builtins.ValueError", "django.db.utils.IntegrityError"]
    assert any(re.fullmatch(r"fleet/letters/pages/calendar\.py:\d+ feed", said) for said in one["trouble"])
    assert (one["level"], one["status"], one["request"]) == ("error", 500, answer["X-Request-ID"])
    assert TYPED not in written["json"].getvalue()
    assert (TYPED in written["plain"].getvalue()) == (not origin)
    assert "fleet/letters/pages/calendar.py" in written["plain"].getvalue()
    assert "a-key" not in "".join(stream.getvalue() for stream in written.values())


def test_each_line_of_a_request_has_the_number_that_its_answer_carries(written, as_):
    school = make.school()
    client = as_(make.staff(Role.TECHNICIAN, school))
    answers = [client.get(f"/s/{school.slug}/pupils/"), client.get(f"/s/{school.slug}/horns/"), client.get("/nowhere/")]

    numbers = [answer["X-Request-ID"] for answer in answers]
    assert len({*numbers}) == 3
    found = {number: [one["said"] for one in lines(written) if one["request"] == number] for number in numbers}
    refused, listed, nowhere = found.values()
    assert any("was answered 403" in said for said in refused)
    assert listed == ["answered"]
    assert nowhere == ["django.request"]
    assert (f"[{numbers[1]}]" in written["plain"].getvalue(), REQUEST.get()) == (True, "")


@pytest.mark.parametrize(
    ("behind", "given", "taken"),
    [
        (True, "0123456789abcdef0123456789abcdef", True),
        (True, "01234567", True),
        (True, "0123456", False),
        (True, "a" * 64, True),
        (True, "a" * 65, False),
        (True, "Anna-Quillfeather", False),
        (False, "0123456789abcdef0123456789abcdef", False),
    ],
)
def test_a_number_is_the_proxys_where_there_is_one_and_it_is_a_number(client, settings, behind, given, taken):
    settings.BEHIND_PROXY = behind
    answer = client.get("/robots.txt", headers={"X-Request-ID": given})

    assert (answer["X-Request-ID"] == given) == taken
    assert re.fullmatch("[0-9a-f-]{8,64}", answer["X-Request-ID"])


@pytest.mark.either_engine
def test_what_is_done_beside_a_page_is_written_down_under_its_number(written):
    def broken() -> None:
        raise OSError(TYPED)

    before = REQUEST.set("0123456789abcdef")
    thread = beside("tried", broken)
    REQUEST.reset(before)
    assert thread
    thread.join(5)

    [one] = lines(written)
    assert (one["request"], one["logger"], TYPED in one["said"]) == ("0123456789abcdef", "fleet.mail", False)


def test_a_hook_hears_what_breaks_and_nothing_else_and_may_break_itself(breaks, as_):
    heard: list[dict[str, Any]] = []
    hook, root = Hook(heard.append), logging.getLogger()
    root.addHandler(hook)
    try:
        as_(None).get("/nowhere/")
        Client(raise_request_exception=False).get(breaks.format("a-key"))
        hook.call = lambda told: 1 / 0
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(logging, "raiseExceptions", False)
            assert Client(raise_request_exception=False).get(breaks.format("a-key")).status_code == 500
    finally:
        root.removeHandler(hook)

    assert [(one["status"], one["page"]) for one in heard] == [(500, "calendar-feed")]
    assert TYPED not in str(heard)
