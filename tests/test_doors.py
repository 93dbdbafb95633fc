"""Every address × every role × own school and another school, against the one written table."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from fleet.environment import Issuer
from fleet.ground.access import DOORS, OPEN, OWN_ACCOUNT, Door, Role
from fleet.letters.actions.calendar import make_key
from fleet.people.queries.objections import digest_of
from tests import make
from tests.browser_client import Browser
from tests.doors import ADDRESSES, FAMILY_PAGES, SCHOOL_PAGES, STAFF_ROLES, World, reverse_parts

# Who may do what is asked before any row is read.
pytestmark = pytest.mark.either_engine


def test_the_doors_and_the_real_url_map_name_the_same_pages():
    assert set(ADDRESSES) == set(DOORS) | OPEN | OWN_ACCOUNT


def test_no_page_is_both_open_and_behind_a_door():
    assert not OPEN & set(DOORS)
    assert not OWN_ACCOUNT & (OPEN | set(DOORS))


def test_every_page_of_a_school_carries_the_school_in_its_address():
    for name in SCHOOL_PAGES:
        assert "school" in reverse_parts(name), name


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


def entered(user: Any) -> Browser:
    client = Browser(raise_request_exception=True)
    client.come_as(user)
    return client


def test_who_is_refused_reads_as_whom_and_still_has_the_ways_to_their_own_pages(world: World):
    answer = entered(world.people[Role.TECHNICIAN]).get(world.address("people:pupils"))

    page = answer.content.decode()
    assert answer.status_code == 403
    assert f"As technician at {world.school.name} you may not do this." in page
    assert world.address("workshop:bench") in page
    assert world.address("people:pupils") not in page


@pytest.mark.parametrize("name", SCHOOL_PAGES)
def test_a_schools_page_is_closed_to_whoever_may_not_read_it(name: str, world: World, other: World):
    """That it opens to all who may, tests/test_two_schools.py sees."""
    for role in set(STAFF_ROLES) - DOORS[name].read:
        assert entered(world.people[role]).get(world.address(name)).status_code == 403, (name, role)
    assert entered(other.people[Role.HEAD]).get(world.address(name)).status_code == 404
    assert entered(world.guardian.user).get(world.address(name)).status_code == 404
    nobody = Browser().get(world.address(name))
    assert nobody.status_code == 302
    assert nobody.url.startswith("/account/sign-in/?next=")


@pytest.mark.parametrize("name", SCHOOL_PAGES)
def test_writing_through_a_schools_page(name: str, world: World, other: World):
    door: Door = DOORS[name]
    for role in STAFF_ROLES:
        if role not in door.write:
            answer = entered(world.people[role]).post(world.address(name), {})
            assert answer.status_code == 403, (name, role)
    assert entered(other.people[Role.HEAD]).post(world.address(name), {}).status_code == 404
    assert entered(world.guardian.user).post(world.address(name), {}).status_code == 404
    assert Browser().post(world.address(name), {}).status_code == 302
    for role in sorted(door.write & set(STAFF_ROLES)):
        # What one role removes must still be there for the next.
        with transaction.atomic():
            answer = entered(world.people[role]).post(world.address(name), {})
            transaction.set_rollback(True)
        assert answer.status_code in {200, 302, 409, 422}, (name, role, answer.status_code)


@pytest.mark.parametrize("role", STAFF_ROLES)
def test_a_post_at_one_school_opens_no_door_of_another_whichever_it_is(role: Role, world: World, other: World):
    stranger = entered(other.people[role])
    for name in ("register:horns", "register:horn-edit", "workshop:bench"):
        assert stranger.get(world.address(name)).status_code == 404, name
        assert stranger.post(world.address(name), {}).status_code == 404, name


@pytest.mark.parametrize("name", [n for n in SCHOOL_PAGES if "pk" in reverse_parts(n)])
def test_another_schools_row_cannot_be_reached_through_ones_own_school(name: str, world: World, other: World):
    # Who may most: that a row is of this school is asked of everybody alike.
    client = entered(world.people[Role.HEAD])
    assert client.get(world.address(name, of=other)).status_code == 404
    if Role.HEAD in DOORS[name].write:
        assert client.post(world.address(name, of=other), {}).status_code == 404


@pytest.mark.parametrize("name", FAMILY_PAGES)
def test_a_familys_page_is_for_that_family_only(name: str, world: World, other: World):
    assert entered(world.guardian.user).get(world.address(name)).status_code in {200, 302}
    # Without a row in its address a page is about whoever asks, or tells every family the same.
    about_one = "pk" in reverse_parts(name)
    if about_one:
        assert entered(other.guardian.user).get(world.address(name)).status_code == 404
    for role in STAFF_ROLES:
        assert entered(world.people[role]).get(world.address(name)).status_code == 404, (name, role)
    assert Browser().get(world.address(name)).status_code == 302
    if Role.GUARDIAN in DOORS[name].write:
        stranger = other.guardian.user if about_one else world.people[Role.HEAD]
        assert entered(stranger).post(world.address(name), {}).status_code == 404
    else:
        assert entered(world.guardian.user).post(world.address(name), {}).status_code == 403


@pytest.mark.parametrize("name", sorted(OPEN))
def test_an_open_door_answers_without_signing_in(name: str, db: None, settings: Any):
    settings.SECURITY_CONTACT = "mailto:it@example.org"
    parameters = {"uidb36": "1", "key": "x"} if "from_key" in name and "done" not in name else {}
    if name == "calendar-feed":
        head = make.staff(Role.HEAD, school := make.school())
        parameters = {"secret": make_key(school=school, user=head, at=make.NOW)}
    if name == "address-objection":
        changed = {"before": "old@example.org", "at": timezone.now(), "digest": digest_of("x")}
        make.guardian(make.school()).address_changes.create(**changed)
        parameters = {"secret": "x"}
    if "by_issuer" in name:
        # Nobody answers there.
        settings.ISSUERS = [Issuer("x", "Accounts", "http://127.0.0.1:9", "us", "secret", ("example.org",))]
        parameters = {"key": "x"}
    opened = {502} if name in {"account_by_issuer_go", "account_by_issuer_back"} else {200, 302}
    assert Browser().get(reverse(name, kwargs=parameters)).status_code in opened


@pytest.mark.parametrize("name", sorted(OWN_ACCOUNT))
def test_ones_own_account_asks_for_signing_in(name: str, db: None):
    answer = Browser().get(reverse(name, kwargs=dict.fromkeys(reverse_parts(name), 1)))
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
