"""What Today and a horn's page ask of the database where all waits that can: no more for twenty sorts than for one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone, translation

from fleet.desk.queries import horns, pupils, today
from fleet.desk.queries.horns import page_of as horn_page_of
from fleet.desk.queries.piles import Day
from fleet.desk.queries.pupils import page_of as pupil_page_of
from fleet.desk.queries.today import WAITS, piles
from fleet.ground.access import Role
from fleet.lending.queries import wishes
from fleet.mail.models import Outgoing, mark_of
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.models import Disposal, FormerNumber, Identification, KindSaid, StandChange
from fleet.register.queries import horns_now
from fleet.register.queries.at_once import AtOnce
from fleet.register.queries.horns_now import owings
from fleet.register.queries.kept import tellers
from fleet.workshop.queries import care
from tests import make
from tests.doors import World
from tests.every_state import live

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines, pytest.mark.usefixtures("at_ten")]
DAY = timedelta(days=1)


def filled() -> World:
    """A school where each pile of each role has something in it, and its horn has something of each sort."""
    world = World()
    live(world)
    school, head = world.school, world.people[Role.HEAD]
    School.objects.filter(pk=school.pk).update(year_ends=make.TODAY, approve_above=1)
    make.job(make.horn(school), head, quote=900)
    refused = {"state": "refused", **dict.fromkeys(("queued_at", "next_at", "good_until"), make.NOW)}
    Outgoing.objects.create(was_for=mark_of(world.guardian.email), **refused)
    make.loan(make.horn(school), world.pupil, head, from_list=True, signed_on=None)
    gone = make.pupil(school, make.guardian(school), left_on=make.TODAY - DAY)
    make.loan(make.horn(school), gone, head)
    ready = make.horn(school)
    make.check(ready, head)
    make.wish(make.pupil(school), head, horn=ready)
    return world


@pytest.fixture(scope="module")
def world(built_once: Callable[[Callable[[], Any]], Callable[[], Any]]) -> Callable[[], Any]:
    return built_once(filled)


def tell_all(world: World) -> None:
    """Of the world's horn as much as there can be: it is out, and its pupil needs another."""
    horn, head, by = world.horn, world.people[Role.HEAD], {"at": make.NOW, "by": world.people[Role.HEAD]}
    world.pupil.needs_kind, world.pupil.group = "single", "Band"
    world.pupil.save()
    before = make.loan(horn, world.pupil, head, returned_on=make.TODAY - DAY, issued_on=make.TODAY - 9 * DAY)
    before.accessories.update(came_back=False)
    make.charge(before, head)
    make.recalled(world.loan, head)
    make.return_note(world.loan, head)
    make.sheet(horn, make.pupil(world.school, make.guardian(world.school)), head)
    make.wish(make.pupil(world.school), head, horn=horn, reserved_until=make.TODAY)
    make.job(horn, head, state="away", repairer="Brass House", sent_on=make.TODAY, expected_on=make.TODAY - DAY)
    make.finding(make.check(horn, head, grade=3))
    make.care(horn, head, "oil", make.TODAY)
    FormerNumber.objects.create(school=world.school, horn=horn, number="Old-1", **by)
    Identification.objects.create(horn=horn, build=horn.build, stands_in="F", **by)
    KindSaid.objects.create(horn=horn, build=horn.build, stands_in="F", **by)
    StandChange.objects.create(horn=horn, before="B♭", after="F", reason="For the band.", **by)
    said = {"method": "sold", "on": make.TODAY, "reason": "Old", "proposed_at": make.NOW, "proposed_by": head}
    Disposal.objects.create(horn=horn, **said)
    make.keep([horn])


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_today_asks_at_most_eight_questions_where_every_pile_has_something(
    as_, world, role, django_assert_max_num_queries
):
    filled = world()
    client, page = as_(filled.people[role]), reverse("desk:today", args=[filled.school.slug])

    with django_assert_max_num_queries(8):
        shown = client.get(page)

    assert len(shown.context["piles"]) == len(WAITS[role])


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_a_horns_page_asks_at_most_twelve_questions_where_everything_waits(
    as_, world, role, django_assert_max_num_queries
):
    filled = world()
    tell_all(filled)
    client, page = as_(filled.people[role]), reverse("desk:horn", args=[filled.school.slug, filled.horn.pk])

    with django_assert_max_num_queries(12):
        shown = client.get(page).context["shown"]

    assert len(shown.now.owed) >= 10
    assert len([part for part, rows in shown.story.found if rows]) >= 8
    assert (shown.misfit is not None) is (role != Role.TECHNICIAN)


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER])
def test_a_pupils_page_asks_at_most_ten_questions_where_everything_is_owed(
    as_, world, role, django_assert_max_num_queries
):
    filled = world()
    tell_all(filled)
    client, page = as_(filled.people[role]), reverse("people:pupil", args=[filled.school.slug, filled.pupil.pk])

    with django_assert_max_num_queries(10):
        shown = client.get(page).context

    assert len({one.code for one, _ in shown["owed"]}) >= 12
    assert shown["page"].earlier
    assert shown["page"].against


def told_to(world: World, role: Role, at: datetime, speech: str) -> list[Any]:
    """What Today, a horn's and a pupil's page tell in that language."""
    school = School.objects.get(pk=world.school.pk)
    seat, day = Seat(user=world.people[role], school=school, role=role), timezone.localdate(at)
    with translation.override(speech):
        horn, pupil = horn_page_of(world.horn.pk, seat, day), pupil_page_of(world.pupil.pk, school, day)
        owed = [(one.what, one.why) for page in (horn.now, pupil) for one in page.owed]
        return [owed, *((str(pile.title), pile.many, pile.tasks) for pile in piles(Day(seat, at)))]


def test_a_question_that_is_kept_is_that_of_the_day_the_school_the_role_and_the_language(world):
    filled, other = world(), World()
    tell_all(filled)
    asked = [
        (filled, Role.HEAD, make.NOW, "en"),
        (filled, Role.HEAD, make.NOW + 400 * DAY, "en"),
        (filled, Role.TECHNICIAN, make.NOW, "en"),
        (other, Role.HEAD, make.NOW, "en"),
        (filled, Role.HEAD, make.NOW, "de"),
    ]
    kept = [told_to(*one) for one in asked]
    School.objects.update(approve_above=None)
    kept.append(told_to(*asked[0]))
    School.objects.update(approve_above=1)

    assert [told_to(*one) for one in asked] == kept[:-1]
    assert [kept.count(told) for told in kept] == [1] * len(kept)


@pytest.mark.parametrize("page", ["desk:horn", "people:pupil"])
@pytest.mark.parametrize("key", [0, 2**63 - 1, 2**63])
def test_a_key_that_no_row_can_have_is_a_page_that_is_not_there(as_, world, page, key):
    filled = world()
    assert as_(filled.people[Role.HEAD]).get(reverse(page, args=[filled.school.slug, key])).status_code == 404


def test_a_question_goes_by_nothing_that_it_is_not_kept_by(world, monkeypatch):
    settled, day = world().school.settled, make.TODAY
    by = [
        *((today._asked, role, settled, day) for role in WAITS),
        *((horns_now._asked, 1, settled, day, one) for one in (horns._beside, horns._for_teaching)),
        (pupils._asked, settled, day),
        (care._asked, settled, day, 7),
        (wishes._asked, settled, day, (("single-f", "", "F"), ("double-full", "", "F")), 7),
    ]

    def put_together() -> list[Any]:
        made = [question.__wrapped__(*kept_by) for question, *kept_by in by]
        return [(one._sql, one._given) for one in made]

    usual = put_together()
    monkeypatch.setattr("django.utils.timezone.now", lambda: make.NOW + 99 * DAY)
    with translation.override("de"), timezone.override("Pacific/Auckland"):
        assert put_together() == usual


def test_rows_read_at_once_are_those_of_their_querysets_to_the_last_column(world):
    school, today = world().school, timezone.localdate(make.NOW)
    asked = {code: one.rows(school, today) for code, one in owings().items()}
    asked |= {n: part.rows() for n, part in enumerate(part for teller in tellers() for part in teller.STORY)}

    [(_, found)] = AtOnce(School.objects.all(), {name: rows[:4] for name, rows in asked.items()})([school.pk])

    for name, rows in asked.items():
        for one, other in zip(found[name], rows[:4], strict=True):
            assert columns(one) == columns(other), name
    assert [code for code in owings() if not found[code]] == []


def columns(row: Any) -> dict[str, Any]:
    """What an instance holds, with those that hang on it."""
    held = {name: (value, type(value)) for name, value in vars(row).items() if name != "_state"}
    along = [field.name for field in row._meta.concrete_fields if field.is_relation and field.is_cached(row)]
    return held | {name: columns(one) for name in along if (one := getattr(row, name)) is not None}
