from datetime import timedelta

import pytest

from fleet.ground.refusal import Refused
from fleet.lending.actions.returning import record_mouthpiece_cleaned
from fleet.lending.models import Loan
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.models import ConditionCheck
from tests import make

DAY = timedelta(days=1)


@pytest.fixture
def out(lending):
    """A loan that began ten days ago."""
    return lending.issue(at=make.NOW - 10 * DAY, signed_on=make.TODAY - 10 * DAY)


def test_a_horn_that_comes_back_is_in_the_cupboard_and_nobody_has_it(lending, out):
    loan = lending.give_back(out)

    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (horn.where, horn.holder_name, horn.due_on) == ("cupboard", "", None)
    assert (loan.returned_on, loan.returned_to) == (make.TODAY, lending.teacher)
    assert {thing.came_back for thing in loan.accessories.all()} == {True}
    assert lending.pupil.name.casefold() not in horn.search


def test_what_did_not_come_back_is_kept_as_missing(lending, out):
    _, case = out.accessories.all()

    loan = lending.give_back(out, came_back=[case.pk])

    assert {thing.name: thing.came_back for thing in loan.accessories.all()} == {"mouthpiece": False, "case": True}


def test_new_damage_becomes_a_repair_job_and_the_horn_is_not_lent_again(lending, out):
    def look_over(horn):
        return log_check(
            horn=horn,
            by=lending.teacher,
            at=make.NOW,
            occasion="on-return",
            finish_grade=2,
            found=[Found("string-broken", "r")],
        )

    loan = lending.give_back(out, look_over=look_over)

    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (horn.grade, horn.where) == (3, "cupboard")
    assert [finding.fault for finding in horn.jobs.get(closed_at=None).findings.all()] == ["string-broken"]
    assert loan.check_at_return.grade == 3
    with pytest.raises(Refused, match="graded 3"):
        lending.issue(check_seen=loan.check_at_return.pk)


def refusal(lending, out, **changes):
    with pytest.raises(Refused) as no:
        lending.give_back(out, **changes)
    assert Loan.objects.get(pk=out.pk).returned_on is None
    assert Horn.objects.get(pk=lending.horn.pk).holder_name == lending.pupil.name
    assert ConditionCheck.objects.filter(horn=lending.horn).count() == 1
    return no.value.sentence


def test_a_horn_cannot_come_back_before_it_went_out(lending, out):
    assert "cannot have come back before that" in refusal(lending, out, returned_on=make.TODAY - 11 * DAY)


def test_a_horn_cannot_come_back_tomorrow(lending, out):
    assert "has not come yet" in refusal(lending, out, returned_on=make.TODAY + DAY)


def test_a_mouthpiece_is_cleaned_after_the_return_and_not_tomorrow(lending, out):
    assert "after that" in refusal(lending, out, mouthpiece_cleaned_on=make.TODAY - DAY)
    assert "has not come yet" in refusal(lending, out, mouthpiece_cleaned_on=make.TODAY + DAY)


def test_a_check_that_fails_takes_the_return_back_with_it(lending, out):
    def look_over(horn):
        make.check(horn, lending.teacher)
        raise Refused("A fault stands on a check once.")

    assert refusal(lending, out, look_over=look_over) == "A fault stands on a check once."


def test_who_takes_it_back_second_reads_who_did_so_first(lending, out):
    lending.give_back(out)

    with pytest.raises(Refused) as no:
        lending.give_back(out)

    assert no.value.sentence == (f"{lending.horn} came back on 14 September 2026, taken by {lending.teacher}.")


def test_recording_the_cleaning_later_frees_the_horn(lending, out):
    loan = lending.give_back(out, mouthpiece_cleaned_on=None)

    record_mouthpiece_cleaned(loan=loan, cleaned_on=make.TODAY, by=lending.teacher, at=make.NOW)

    kept = Loan.objects.get(pk=loan.pk)
    assert (kept.mouthpiece_cleaned_on, kept.mouthpiece_cleaned_by) == (make.TODAY, lending.teacher)
    assert lending.issue(check_seen=lending.horn.checks.latest("pk").pk).is_open


def test_a_cleaning_is_recorded_once_and_only_after_the_return(lending, out):
    def record(loan, on=make.TODAY):
        with pytest.raises(Refused) as no:
            record_mouthpiece_cleaned(loan=loan, cleaned_on=on, by=lending.teacher, at=make.NOW)
        return no.value.sentence

    assert "is still out" in record(out)
    loan = lending.give_back(out, mouthpiece_cleaned_on=None)
    assert "after that" in record(loan, make.TODAY - DAY)
    assert "has not come yet" in record(loan, make.TODAY + DAY)
    record_mouthpiece_cleaned(loan=loan, cleaned_on=make.TODAY, by=lending.teacher, at=make.NOW)
    assert "recorded already" in record(loan)


def test_the_loans_words_pick_the_overdue_and_the_due_soon(lending, elsewhere):
    def loan(**fields):
        return make.loan(make.horn(lending.school), lending.pupil, lending.teacher, **fields)

    began = make.TODAY - 30 * DAY
    late = loan(issued_on=began, due_on=make.TODAY - DAY)
    due = loan(issued_on=began, due_on=make.TODAY)
    last = loan(issued_on=began, due_on=make.TODAY + 14 * DAY)
    later = loan(issued_on=began, due_on=make.TODAY + 15 * DAY)
    ended = loan(issued_on=began, due_on=make.TODAY - DAY, returned_on=make.TODAY)
    here = Loan.objects.at(lending.school)

    assert set(here.overdue(make.TODAY)) == {late}
    assert set(here.due_soon(make.TODAY, 14)) == {due, last}
    assert set(here.open()) == {late, due, last, later}
    assert set(here.ended()) == {ended}
    assert [late.days_over(make.TODAY), due.days_over(make.TODAY), ended.days_over(make.TODAY)] == [1, 0, 0]
