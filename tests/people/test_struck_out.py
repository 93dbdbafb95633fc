"""A pupil who was entered by mistake is struck out; one who was forgotten leaves the list; who the second person is."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.desk.actions.forgetting import forget
from fleet.exchange.actions.lists.pupils import pupils_on_record
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import amend, strike_out
from fleet.people.models import Opening, Post, Pupil
from fleet.people.queries.seats import Seat, others_who_may
from fleet.record.models import Act, Deed
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def names(client, school) -> list[str]:
    table = client.get(reverse("people:pupils", args=[school.slug])).context["table"]
    return [row.record.name for row in table.rows]


def test_a_pupil_entered_by_mistake_leaves_the_list_with_a_reason(as_, school, head):
    make.pupil(school, name="Ada")
    twice = make.pupil(school, make.guardian(school), name="31 Summe", pupil_id="S1")
    client = as_(head)
    client.get(reverse("people:pupil-edit", args=[school.slug, twice.pk]))
    page = reverse("people:pupil-strike-out", args=[school.slug, twice.pk])
    assert client.post(page, {"reason": ""}).status_code == 422

    client.post(page, {"reason": "The line under the list"})

    assert names(client, school) == ["Ada"]
    twice.refresh_from_db()
    assert (twice.struck_out, twice.pupil_id, twice.left_on is not None) == ("The line under the list", "", True)
    assert Act.objects.filter(deed=Deed.PUPIL_STRUCK_OUT, pupil=twice).exists()
    shown = folded(client.get(reverse("people:pupil", args=[school.slug, twice.pk])))
    assert "Struck out, entered by mistake: The line under the list" in shown
    assert pupils_on_record(school, [{"name": "31 Summe", "pupil_id": "S1"}]) == ({}, {})
    with pytest.raises(Refused, match="is struck out already"):
        strike_out(pupil=twice, reason="Again", by=head, at=make.NOW)


def test_a_pupil_who_was_struck_out_is_changed_no_more(as_, school, head):
    client, pupil = as_(head), make.pupil(school, name="31 Summe")
    shown, change, strike = (
        reverse(f"people:{page}", args=[school.slug, pupil.pk]) for page in ("pupil", "pupil-edit", "pupil-strike-out")
    )
    assert change in folded(client.get(shown))
    assert f'<a href="{shown}">Back to the pupil</a>' in folded(client.get(strike))
    strike_out(pupil=pupil, reason="A sum", by=head, at=make.NOW)

    assert change not in folded(client.get(shown))
    answer = client.post(change, {"name": "31 Summe", "left_on": ""})

    assert answer.status_code == 409
    assert "31 Summe is struck out, so nothing about them is changed any more." in folded(answer)
    assert names(client, school) == []
    for changes in ({"left_on": None}, {"group": "5a"}, {}):
        with pytest.raises(Refused, match="is struck out"):
            amend(pupil=pupil, changes=changes, by=head, at=make.NOW)


def test_a_pupil_who_had_a_horn_was_no_mistake(school, head):
    ada, looked_at = make.pupil(school, make.guardian(school), name="Ada"), make.pupil(school, name="Ben")
    make.loan(make.horn(school), ada, head, returned_on=make.TODAY)
    Opening.objects.create(school=school, by=head, at=make.NOW, page="people:pupil-edit", pupil=looked_at)

    with pytest.raises(Refused, match=r"On record of Ada: 1 loan. So this was no mistake"):
        strike_out(pupil=ada, reason="Twice", by=head, at=make.NOW)
    assert strike_out(pupil=looked_at, reason="Twice", by=head, at=make.NOW).struck_out == "Twice"


def test_a_pupil_who_is_forgotten_leaves_the_list(as_, school, head):
    make.pupil(school, name="Ada")
    here, gone = make.pupil(school, name="Ben"), make.pupil(school, name="Cy", left_on=make.TODAY.replace(year=2020))
    struck = strike_out(pupil=make.pupil(school, name="Di"), reason="Di twice", by=head, at=make.NOW)

    for pupil in (here, gone, struck):
        forget(pupil=pupil, by=head, at=make.NOW)

    assert names(as_(head), school) == ["Ada"]
    left = dict(Pupil.objects.exclude(name="Ada").values_list("pk", "left_on"))
    assert left == {here.pk: make.TODAY, gone.pk: make.TODAY.replace(year=2020), struck.pk: make.TODAY}
    struck.refresh_from_db()
    assert "Di" not in struck.struck_out


def test_a_head_alone_is_told_who_can_be_the_second_person(as_, school, head):
    make.staff(Role.TEACHER, school)
    make.staff(Role.HEAD, make.school())
    horn = make.horn(school)
    page = reverse("register:disposal", args=[school.slug, horn.pk])
    closing = reverse("exchange:closing", args=[school.slug])
    alone = "You are alone here: nobody else of this school can do that."

    assert alone in folded(as_(head).get(page))
    second = make.staff(Role.SERVICE, school, name="Ines Second")
    shown = folded(as_(head).get(page))
    assert alone not in shown
    assert "a department head who is not you decides: Ines Second." in shown
    assert f"another head of this school has to agree: {head}." in folded(as_(second).get(closing))


def test_the_second_person_may_do_it_and_is_somebody_else(school, head):
    seat = Seat(user=head, school=school, role=Role.HEAD)
    make.staff(Role.TEACHER, school, name="Tom")
    assert others_who_may(seat, "register:disposal-decide") == []
    assert [str(one) for one in others_who_may(seat, "counting:sign")] == ["Tom"]
    closed = make.staff(Role.HEAD, school, name="Shut", is_active=False)
    assert Post.objects.filter(user=closed).exists()
    assert others_who_may(seat, "register:disposal-decide") == []
