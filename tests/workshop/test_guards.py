"""What the bench's actions refuse when they are called outright, and what they answer when nothing is to be done."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.people.models import School
from fleet.workshop.actions.care import care_for
from fleet.workshop.actions.jobs import note_stand_in
from fleet.workshop.actions.outside import approve
from fleet.workshop.actions.parts import use_part
from fleet.workshop.models import CheckPhotograph, ConditionCheck
from fleet.workshop.queries.visit import _as_numbers
from tests import make
from tests.reading import horn_now

pytestmark = pytest.mark.django_db


@pytest.fixture
def head():
    return make.staff(Role.HEAD, make.school())


def school_of(head):
    return head.posts.get().school


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("Looked over in a row of returns; nothing new was seen.", "nichts Neues"),
        ("Valve 2 is slow.", "Valve 2 is slow."),
        ("", ""),
    ],
)
def test_what_a_row_of_returns_notes_of_a_check_is_told_in_the_readers_language(kept, told):
    with override("de"):
        assert told in ConditionCheck(notes=kept).notes_in_words


@pytest.mark.parametrize("count", [0, 1001])
def test_no_part_is_used_by_nought_or_by_more_than_a_thousand(head, count):
    job = make.job(make.horn(school_of(head)), head)
    part = make.part(school_of(head))
    with pytest.raises(Refused, match="at least one piece"):
        use_part(job=job, part=part, count=count, by=head, at=make.NOW)


def test_care_is_not_recorded_for_tomorrow_but_for_today(head):
    horn = make.horn(school_of(head), build="single-f", stands_in="F")
    said = {"horns": [horn.pk], "kind": "oil", "school": school_of(head), "by": head, "at": make.NOW}
    with pytest.raises(Refused, match="still to come"):
        care_for(on=make.TODAY + timedelta(days=1), **said)
    assert care_for(on=make.TODAY, **said) == 1


def test_a_quote_approved_twice_stays_as_it_was_approved_first(head):
    job = make.job(make.horn(school_of(head)), head, cost=Decimal(300))
    once = approve(job=job, amount=Decimal(300), by=head, at=make.NOW)
    again = approve(job=job, amount=Decimal(300), by=head, at=make.NOW + timedelta(days=1))
    assert (once.approved_at, again.approved_at, again.steps.count()) == (make.NOW, make.NOW, 1)


@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_the_button_that_approves_a_sum_sends_it_in_every_language(as_, head, language):
    school = school_of(head)
    School.objects.filter(pk=school.pk).update(language=language, staff_languages=["de"], approve_above=Decimal(150))
    job = make.job(make.horn(school), head, cost=Decimal("1180.50"))
    browser, page = as_(head), f"/s/{school.slug}/jobs/{job.pk}/"

    (amount,) = re.findall(r'name="amount" value="([^"]+)"', browser.get(page).content.decode())
    browser.post(f"{page}approve/", {"amount": amount})

    job.refresh_from_db()
    assert (job.approved, job.approved_by) == (Decimal("1180.50"), head)


def test_a_picture_of_a_check_is_named_by_its_words_or_its_number():
    assert str(CheckPhotograph(caption="The bell.", pk=7)) == "The bell."
    assert str(CheckPhotograph(pk=7)) == "picture 7"


def test_worths_of_unlike_length_are_not_compared():
    with pytest.raises(ValueError, match="same number of figures"):
        _as_numbers([(1, 2), (1,)])
    assert _as_numbers([(1, 0), (0, 9), (1, 1)]) == [11, 9, 12]


@pytest.mark.parametrize("still_plays", [True, False])
def test_a_report_presses_where_the_horn_does_not_play(head, still_plays):
    horn = make.horn(school_of(head))
    make.report(horn, head, still_plays=still_plays)

    [owed] = [one for one in horn_now(horn, today=make.TODAY).owed if one.code == "report"]
    assert owed.late is not still_plays


def test_a_check_is_due_of_horns_in_their_place_only(head):
    school = school_of(head)
    old, in_workshop = make.horn(school), make.horn(school)
    make.job(in_workshop, head, state="bench")

    def due(horn):
        return "check" in {one.code for one in horn_now(horn, today=make.TODAY).owed}

    in_workshop.refresh_from_db()
    assert (due(old), due(in_workshop)) == (True, False)


def test_a_horn_played_meanwhile_is_noted_on_the_job_that_is_open(head):
    school = school_of(head)
    horn, other = make.horn(school), make.horn(school)
    done = make.job(horn, head, state="done")
    note_stand_in(horn=horn, stand_in=other, by=head, at=make.NOW)
    done.refresh_from_db()
    assert done.stand_in is None

    open_now = make.job(horn, head)
    note_stand_in(horn=horn, stand_in=other, by=head, at=make.NOW)
    open_now.refresh_from_db()
    done.refresh_from_db()
    assert (done.stand_in, open_now.stand_in) == (None, other)


def test_a_mouthpiece_of_a_horn_that_is_out_again_is_owed_by_nobody(head):
    school = school_of(head)
    horn = make.horn(school)
    make.loan(horn, make.pupil(school), head, issued_on=make.TODAY - timedelta(days=9), returned_on=make.TODAY)

    def owed():
        horn.refresh_from_db()
        return "mouthpiece" in {one.code for one in horn_now(horn, today=make.TODAY).owed}

    assert owed()
    make.loan(horn, make.pupil(school), head)
    assert horn.mouthpiece_owed
    assert not owed()
