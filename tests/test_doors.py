"""Every address × every role × own school and another school, against the one written table."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import URLResolver, get_resolver, reverse

from fleet.counting.actions.counts import begin
from fleet.counting.actions.finds import keep_find
from fleet.counting.actions.sightings import see
from fleet.ground.access import DOORS, OPEN, OWN_ACCOUNT, Door, Reach, Role
from fleet.letters.actions.calendar import make_key
from fleet.register.actions.disposing import propose
from fleet.register.models import Photograph
from fleet.workshop.models import CheckPhotograph
from tests import make
from tests.browser_client import Browser

STAFF_ROLES = (Role.HEAD, Role.TEACHER, Role.TECHNICIAN, Role.SERVICE)


def every_address() -> Iterator[tuple[str, set[str]]]:
    """(view name, names of the parameters in its address) of the whole real URL map."""

    def below(entries: list[Any], namespace: str, parameters: set[str]) -> Iterator[tuple[str, set[str]]]:
        for entry in entries:
            inside = parameters | set(entry.pattern.regex.groupindex)
            if isinstance(entry, URLResolver):
                within = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
                yield from below(entry.url_patterns, within, inside)
            else:
                yield f"{namespace}{entry.name}", inside

    return below(get_resolver().url_patterns, "", set())


ADDRESSES = dict(every_address())
SCHOOL_PAGES = sorted(name for name, door in DOORS.items() if door.reach is Reach.SCHOOL)
FAMILY_PAGES = sorted(name for name, door in DOORS.items() if door.reach is Reach.FAMILY)


def test_the_doors_and_the_real_url_map_name_the_same_pages():
    assert set(ADDRESSES) == set(DOORS) | OPEN | OWN_ACCOUNT


def test_no_page_is_both_open_and_behind_a_door():
    assert not OPEN & set(DOORS)
    assert not OWN_ACCOUNT & (OPEN | set(DOORS))


def test_every_page_of_a_school_carries_the_school_in_its_address():
    for name in SCHOOL_PAGES:
        assert "school" in reverse_parts(name), name


def reverse_parts(name: str) -> set[str]:
    return ADDRESSES[name]


class World:
    """One school with one of everything a page can be about."""

    def __init__(self) -> None:
        self.school = make.school()
        self.people = {role: make.staff(role, self.school) for role in STAFF_ROLES}
        head = self.people[Role.HEAD]
        self.guardian = make.guardian(self.school)
        self.pupil = make.pupil(self.school, self.guardian)
        self.horn = make.horn(self.school, build="double-full", stands_in="F")
        self.loan = make.loan(self.horn, self.pupil, head)
        self.check = self.loan.check_at_issue
        self.place = make.place(self.school)
        spare = make.horn(self.school, place=self.place)
        self.job = make.job(spare, head)
        self.part = make.part(self.school)
        self.report = make.report(self.horn, self.guardian.user, pupil=self.pupil)
        picture = ContentFile(b"not looked at here", name="x.jpg")
        size = {"width": 20, "height": 20}
        self.photograph = Photograph.objects.create(horn=self.horn, at=make.NOW, by=head, image=picture, **size)
        self.check_photograph = CheckPhotograph.objects.create(check_made=self.check, image=picture, **size)
        self.charge = make.charge(self.loan, head)
        self.ask = make.ask(self.loan, self.guardian.user)
        self.letter = make.letter(self.loan)
        self.signature = make.signature(self.horn, self.pupil, head)
        make.sheet(spare, self.pupil, head)
        self.count = begin(school=self.school, places=[self.place], by=head, at=make.NOW)
        self.sighting = see(
            count=self.count, horn=spare, place=self.place, key="a-tap-of-the-head", by=head, at=make.NOW
        )
        self.find = keep_find(
            count=self.count, words="no label", place=self.place, key="a-find-of-the-head", by=head, at=make.NOW
        )
        self.disposal = propose(
            horn=make.horn(self.school), method="scrapped", on=make.TODAY, reason="Cracked", by=head, at=make.NOW
        )
        self.list = make.a_list(self.school, head)
        self.ended = make.loan(spare, self.pupil, head, returned_on=make.TODAY)
        self.ended.accessories.update(came_back=False)
        self.missing = self.ended.accessories.latest("pk")

    def subject(self, name: str) -> Any:
        """The row that a page with a `pk` in its address is about."""
        subjects = {
            "register:photograph": self.photograph,
            "register:photograph-remove": self.photograph,
            "register:place-edit": self.place,
            "workshop:check": self.check,
            "workshop:check-photograph": self.check_photograph,
            "workshop:job": self.job,
            "workshop:job-outside": self.job,
            "workshop:job-approve": self.job,
            "workshop:job-part": self.job,
            "reports:job-ticket": self.job,
            "reports:condition-report": self.job,
            "workshop:part-edit": self.part,
            "workshop:report": self.report,
            "counting:count": self.count,
            "counting:shelf": self.count,
            "counting:sent": self.count,
            "counting:end": self.count,
            "counting:sign": self.count,
            "counting:line": self.sighting.line,
            "counting:undo": self.sighting,
            "counting:find": self.find,
            "counting:find-undo": self.find,
            "reports:count-sheet": self.count,
            "reports:count-report": self.count,
            "register:disposal-decide": self.disposal,
            "reports:disposal-record": self.disposal,
            "loans:charge": self.charge,
            **{f"loans:{page}": self.loan for page in ("loan", "return", "renew", "recall", "swap", "lost")},
            "loans:charge-new": self.loan,
            "loans:accessory": self.missing,
            "loans:ask": self.ask,
            "loans:letter": self.letter,
            "loans:mouthpiece": self.ended,
            "reports:loan-sheet": self.loan,
            "exchange:import": self.list,
            "exchange:columns": self.list,
            "exchange:refused": self.list,
            "people:pupil-edit": self.pupil,
            "desk:pupil-data": self.pupil,
            "desk:pupil-forget": self.pupil,
            "loans:of-pupil": self.pupil,
            "people:guardian-new": self.pupil,
            "people:guardian-edit": self.guardian,
            "people:staff-edit": self.people[Role.TEACHER].posts.get(),
            "desk:family-horn": self.loan,
            "desk:family-care": self.loan,
            "desk:family-renew": self.loan,
            "desk:family-lost": self.loan,
            "desk:family-sign": self.signature,
            "desk:family-sheet": self.loan,
            "desk:family-chart": self.loan,
            "desk:family-picture": self.photograph,
        }
        return subjects.get(name, self.horn)

    def address(self, name: str, *, of: World | None = None) -> str:
        """The page's address at this school, about a row of this school (or of another one)."""
        values: dict[str, Any] = {}
        for parameter in reverse_parts(name):
            if parameter == "school":
                values["school"] = self.school.slug
            elif parameter == "pk":
                values["pk"] = (of or self).subject(name).pk
            elif parameter == "code":
                values["code"] = (of or self).horn.label_code
            else:
                raise AssertionError(f"{name} has a parameter {parameter!r} this test knows nothing of")
        return reverse(name, kwargs=values)


@pytest.fixture(scope="module")
def two_worlds(built_once: Any) -> Any:
    return built_once(lambda: (World(), World()))


@pytest.fixture
def worlds(two_worlds: Any, db: None) -> tuple[World, World]:
    return two_worlds()


@pytest.fixture
def world(worlds: tuple[World, World]) -> World:
    return worlds[0]


@pytest.fixture
def other(worlds: tuple[World, World]) -> World:
    return worlds[1]


def entered(user: Any) -> Client:
    client = Browser(raise_request_exception=True)
    client.force_login(user)
    return client


def test_who_is_refused_reads_as_whom_and_still_has_the_ways_to_their_own_pages(world: World):
    answer = entered(world.people[Role.TECHNICIAN]).get(world.address("people:pupils"))

    page = answer.content.decode()
    assert answer.status_code == 403
    assert f"As technician at {world.school.name} you may not do this." in page
    assert world.address("workshop:bench") in page
    assert world.address("people:pupils") not in page


@pytest.mark.parametrize("name", SCHOOL_PAGES)
def test_reading_a_schools_page(name: str, world: World, other: World):
    door: Door = DOORS[name]
    for role in STAFF_ROLES:
        own = entered(world.people[role]).get(world.address(name)).status_code
        if role in door.read:
            assert own in {200, 302, 405}, (name, role, own)
        else:
            assert own == 403, (name, role, own)
        stranger = entered(other.people[role]).get(world.address(name))
        assert stranger.status_code == 404, (name, role)
    assert entered(world.guardian.user).get(world.address(name)).status_code == 404
    nobody = Browser().get(world.address(name))
    assert nobody.status_code == 302
    assert nobody.url.startswith("/account/sign-in/?next=")


@pytest.mark.parametrize("name", SCHOOL_PAGES)
def test_writing_through_a_schools_page(name: str, world: World, other: World):
    door: Door = DOORS[name]
    for role in STAFF_ROLES:
        stranger = entered(other.people[role]).post(world.address(name), {})
        assert stranger.status_code == 404, (name, role)
        if role not in door.write:
            answer = entered(world.people[role]).post(world.address(name), {})
            assert answer.status_code == 403, (name, role)
    assert entered(world.guardian.user).post(world.address(name), {}).status_code == 404
    assert Browser().post(world.address(name), {}).status_code == 302
    for role in sorted(door.write & set(STAFF_ROLES)):
        # What one role removes must still be there for the next.
        with transaction.atomic():
            answer = entered(world.people[role]).post(world.address(name), {})
            transaction.set_rollback(True)
        assert answer.status_code in {200, 302, 409, 422}, (name, role, answer.status_code)


@pytest.mark.parametrize("name", [n for n in SCHOOL_PAGES if "pk" in reverse_parts(n)])
def test_another_schools_row_cannot_be_reached_through_ones_own_school(name: str, world: World, other: World):
    door: Door = DOORS[name]
    for role in sorted(door.read & set(STAFF_ROLES)):
        client = entered(world.people[role])
        assert client.get(world.address(name, of=other)).status_code == 404, (name, role)
        if role in door.write:
            assert client.post(world.address(name, of=other), {}).status_code == 404, (name, role)


@pytest.mark.parametrize("name", FAMILY_PAGES)
def test_a_familys_page_is_for_that_family_only(name: str, world: World, other: World):
    assert entered(world.guardian.user).get(world.address(name)).status_code in {200, 302}
    with_row = bool(reverse_parts(name))
    if with_row:
        assert entered(other.guardian.user).get(world.address(name)).status_code == 404
    for role in STAFF_ROLES:
        assert entered(world.people[role]).get(world.address(name)).status_code == 404, (name, role)
    assert Browser().get(world.address(name)).status_code == 302
    if Role.GUARDIAN in DOORS[name].write:
        assert entered(other.guardian.user).post(world.address(name), {}).status_code == 404
    else:
        assert entered(world.guardian.user).post(world.address(name), {}).status_code == 403


@pytest.mark.parametrize("name", sorted(OPEN))
def test_an_open_door_answers_without_signing_in(name: str, db: None):
    parameters = {"uidb36": "1", "key": "x"} if "from_key" in name and "done" not in name else {}
    if name == "calendar-feed":
        head = make.staff(Role.HEAD, school := make.school())
        parameters = {"secret": make_key(school=school, user=head, at=make.NOW)}
    assert Browser().get(reverse(name, kwargs=parameters)).status_code in {200, 302}


@pytest.mark.parametrize("name", sorted(OWN_ACCOUNT))
def test_ones_own_account_asks_for_signing_in(name: str, db: None):
    answer = Browser().get(reverse(name))
    assert (answer.status_code, answer.url.split("?")[0]) == (302, "/account/sign-in/")


def test_a_page_without_a_line_in_the_table_is_closed(world: World, monkeypatch: pytest.MonkeyPatch):
    fewer = {name: door for name, door in DOORS.items() if name != "register:horns"}
    monkeypatch.setattr("fleet.middleware.DOORS", fewer)

    assert entered(world.people[Role.HEAD]).get(world.address("register:horns")).status_code == 404


def test_the_command_prints_the_same_table():
    printed = StringIO()
    call_command("doors", stdout=printed)
    head, ruled, *lines = [
        [cell.strip() for cell in line[2:-2].split(" | ")] for line in printed.getvalue().splitlines()
    ]
    words = {page.strip("`"): (reads, changes) for page, reads, changes in lines}

    def roles(said: str) -> frozenset[Role]:
        return frozenset(Role(one) for one in said.split(", ")) - {Role.NOBODY}

    assert head == ["page", "reads", "changes"]
    assert all(set(cell) == {"-"} for cell in ruled)
    assert {name: (roles(words[name][0]), roles(words[name][1])) for name in DOORS} == {
        name: (door.read, door.write) for name, door in DOORS.items()
    }
    assert {name for name, said in words.items() if said[0] == "everybody"} == OPEN
    assert set(words) == set(DOORS) | OPEN | OWN_ACCOUNT
    assert words["loans:charge"] == ("head, service, teacher", "head, service")
