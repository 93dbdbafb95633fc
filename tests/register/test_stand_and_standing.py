"""Restringing, withdrawing, losing and finding."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions import restringing, whereabouts
from fleet.register.models import Horn, Identification, StandChange, Standing
from tests import make
from tests.reading import story_of

pytestmark = pytest.mark.django_db


def today():
    return timezone.localdate().isoformat()


def test_restringing_is_dated_reasoned_and_asks_for_the_test_note(as_, school):
    horn = make.horn(school, build="double-full", stands_in="F")
    technician = make.staff(Role.TECHNICIAN, school)
    Identification.objects.create(
        horn=horn,
        at=make.NOW,
        by=technician,
        build="double-full",
        stands_in="F",
        observations={"valves": "4", "slide_sets": "2", "test_note": "1", "test_note_thumb": "0", "step_down": "3"},
    )
    yesterday = timezone.localdate() - timedelta(days=1)

    answer = as_(technician).post(
        f"/s/{school.slug}/horns/{horn.pk}/stand/",
        {"stands_in": "Bb", "on": yesterday.isoformat(), "reason": "For the first years"},
    )

    horn.refresh_from_db()
    change = StandChange.objects.get(horn=horn)
    assert (horn.stands_in, horn.test_note_owed) == ("Bb", True)
    assert (change.before, change.after, change.by, change.reason) == (
        "F",
        "Bb",
        technician,
        "For the first years",
    )
    assert timezone.localdate(change.at) == yesterday
    # What was seen still holds; what was sounded has to be sounded again.
    assert answer.url == f"/s/{school.slug}/identify/?valves=4&slide_sets=2&horn={horn.pk}&step=test_note"
    assert as_(technician).get(f"/s/{school.slug}/horns/{horn.pk}/sound/").url == answer.url
    assert list(Horn.objects.at(school).test_note_owed()) == [horn]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"build": ""}, "Say what this horn is first."),
        ({"build": "single-f", "stands_in": "F"}, "A single horn in F cannot be restrung"),
        ({"build": "descant-bb-high-f", "stands_in": "Bb"}, "cannot be restrung"),
        ({"holder_name": "Bo Li"}, "This horn is out with Bo Li."),
        ({"withdrawn_on": date(2026, 1, 1)}, "This horn is withdrawn."),
        ({"stands_in": "Bb"}, "This horn already stands in B♭."),
    ],
)
def test_restringing_is_refused_with_the_reason(school, now, fields, sentence):
    horn = make.horn(school, **{"build": "double-full", "stands_in": "F", **fields})

    with pytest.raises(Refused, match=sentence):
        restringing.restring(horn=horn, stands_in="Bb", reason="x", by=make.user(), at=now)

    assert not StandChange.objects.exists()
    assert not Horn.objects.get(pk=horn.pk).test_note_owed


def test_a_horn_cannot_be_restrung_to_a_key_it_has_no_side_for(school, now):
    horn = make.horn(school, build="double-full", stands_in="F")

    with pytest.raises(Refused, match="does not stand in E♭"):
        restringing.restring(horn=horn, stands_in="Eb", reason="x", by=make.user(), at=now)


def test_a_restringing_needs_a_reason_and_a_day_that_has_come(as_, school):
    horn = make.horn(school, build="double-full", stands_in="F")
    tomorrow = timezone.localdate() + timedelta(days=1)

    answer = as_(make.staff(Role.TEACHER, school)).post(
        f"/s/{school.slug}/horns/{horn.pk}/stand/", {"stands_in": "Bb", "on": tomorrow.isoformat(), "reason": " "}
    )

    assert set(answer.context["form"].errors) == {"on", "reason"}
    assert not StandChange.objects.exists()


def test_the_page_refuses_what_the_action_refuses_and_keeps_what_was_typed(as_, school):
    horn = make.horn(school, build="double-full", stands_in="F", holder_name="Bo Li")

    answer = as_(make.staff(Role.TEACHER, school)).post(
        f"/s/{school.slug}/horns/{horn.pk}/stand/", {"stands_in": "Bb", "on": today(), "reason": "My long reason"}
    )

    text = answer.content.decode()
    assert "This horn is out with Bo Li." in text
    assert "My long reason" in text


@pytest.mark.parametrize(
    ("before", "kind", "where"),
    [
        ({}, "withdrawn", "withdrawn"),
        ({}, "not-found", "not-found"),
        ({"not_found_on": date(2026, 1, 1)}, "found", "cupboard"),
        ({"not_found_on": date(2026, 1, 1)}, "withdrawn", "withdrawn"),
        ({"withdrawn_on": date(2026, 1, 1)}, "kept-again", "cupboard"),
    ],
)
def test_a_head_changes_a_horns_standing(as_, school, before, kind, where):
    horn = make.horn(school, **before)
    head = make.staff(Role.HEAD, school)

    answer = as_(head).post(
        f"/s/{school.slug}/horns/{horn.pk}/standing/", {"kind": kind, "on": today(), "reason": "After the count"}
    )

    assert (answer.status_code, answer.url) == (302, f"/s/{school.slug}/horns/{horn.pk}/")
    horn.refresh_from_db()
    standing = Standing.objects.filter(horn=horn).latest("pk")
    assert (horn.where, standing.kind, standing.by, standing.reason) == (where, kind, head, "After the count")


@pytest.mark.parametrize(
    ("before", "chosen"),
    [({}, None), ({"not_found_on": date(2026, 1, 1)}, "found"), ({"withdrawn_on": date(2026, 1, 1)}, "kept-again")],
)
def test_what_brings_a_horn_back_is_chosen_already(as_, school, before, chosen):
    horn = make.horn(school, **before)

    answer = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/horns/{horn.pk}/standing/")

    assert re.findall(r'value="([a-z-]+)"[^>]* checked', answer.content.decode()) == ([chosen] if chosen else [])


@pytest.mark.parametrize("kind", ["withdrawn", "not-found"])
def test_a_horn_on_loan_keeps_its_standing(school, now, kind):
    horn = make.horn(school, holder_name="Bo Li")

    with pytest.raises(Refused, match="This horn is out with Bo Li"):
        whereabouts.change_standing(horn=horn, kind=kind, reason="x", by=make.user(), at=now)

    assert not Standing.objects.exists()
    assert Horn.objects.get(pk=horn.pk).where == "out"


def test_a_horn_is_not_withdrawn_twice(school, now):
    horn = make.horn(school)
    whereabouts.change_standing(horn=horn, kind="withdrawn", reason="x", by=make.user(), at=now)

    with pytest.raises(Refused, match="This horn is withdrawn"):
        whereabouts.change_standing(horn=horn, kind="withdrawn", reason="x", by=make.user(), at=now)


@pytest.mark.parametrize("role", [Role.TEACHER, Role.TECHNICIAN])
def test_only_heads_change_a_standing(as_, school, role):
    horn = make.horn(school)
    address = f"/s/{school.slug}/horns/{horn.pk}/standing/"
    client = as_(make.staff(role, school))

    assert client.get(address).status_code == 403
    assert client.post(address, {"kind": "withdrawn", "on": today(), "reason": "x"}).status_code == 403


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("In a tram", "In a tram."),
        ("Lost while on loan: In a tram", "In a tram."),
        ("Given up, given away: To the band", "To the band."),
        ("Count of Room 3; Loft: Looked twice", "Looked twice."),
        ("Count of everything: Looked: twice", "Looked: twice."),
        ("Sample of 9 from 40 horns: Looked twice", "Looked twice."),
        ("In the Count of Monte Cristo: our play", "In the Count of Monte Cristo: our play."),
    ],
)
def test_of_a_reason_taken_over_from_elsewhere_what_was_typed_is_told(school, kept, told):
    horn = make.horn(school)
    Standing.objects.create(horn=horn, kind="not-found", reason=kept, at=make.NOW, by=make.staff(Role.HEAD, school))
    with override("de"):
        assert [line.sentence for line in story_of(horn).told()] == [f"Nicht gefunden: {told}"]


def test_the_sets_that_today_asks_for(school):
    elsewhere = make.school()
    make.horn(elsewhere, build="", test_note_owed=True)
    unknown = make.horn(school, build="", checked_on=date(2026, 9, 1))
    make.horn(school, build="", withdrawn_on=date(2026, 1, 1))
    owed = make.horn(school, test_note_owed=True, checked_on=date(2025, 1, 1))
    never = make.horn(school)
    make.horn(school, not_found_on=date(2026, 1, 1), test_note_owed=True)
    make.horn(school, not_found_on=date(2026, 1, 1), build="")
    make.horn(school, withdrawn_on=date(2026, 1, 1), test_note_owed=True)
    horns = Horn.objects.at(school)

    assert set(horns.unidentified()) == {unknown}
    assert set(horns.test_note_owed()) == {owed}
    assert set(horns.not_checked_since(date(2026, 9, 1))) == {owed, never}
    assert set(horns.not_checked_since(date(2026, 9, 2))) == {owed, never, unknown}
