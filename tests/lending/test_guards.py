"""What the actions of lending refuse when they are called outright, whatever a form has let by."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.ground.refusal import Refused
from fleet.lending.actions import asks, charges, dates, issuing, returning, swapping
from fleet.lending.actions.returning import record_mouthpiece_cleaned
from fleet.lending.forms.charges import ChargeForm
from fleet.lending.queries.loans import last_ended, last_ended_of
from fleet.people.queries.school_days import SchoolDays
from tests import make
from tests.lending.test_new_year import form_of

DAY = timedelta(days=1)


@pytest.fixture
def loan(lending):
    return lending.issue()


def by(lending):
    return {"by": lending.teacher, "at": make.NOW}


def test_a_family_is_not_answered_without_words(lending, loan):
    ask = make.ask(loan, lending.guardian.user)
    with pytest.raises(Refused, match="Write what the family will read"):
        asks.answer(ask=ask, words="  ", **by(lending))


def test_a_charge_is_for_something_and_is_paid_or_remitted(lending, loan):
    with pytest.raises(Refused, match="Say what the charge is for"):
        charges.charge(loan=loan, what=" ", amount=Decimal(1), due_on=make.TODAY, **by(lending))
    with pytest.raises(Refused, match="paid or remitted"):
        charges.settle(charge=make.charge(loan, lending.teacher), state="due", **by(lending))


def test_a_horn_is_not_called_back_for_yesterday_but_may_be_for_today(lending, loan):
    said = {"loan": loan, "due_seen": loan.due_on, "reason": "A tour.", **by(lending)}
    with pytest.raises(Refused, match="is in the past"):
        dates.recall(due_on=make.TODAY - DAY, **said)
    assert dates.recall(due_on=make.TODAY, **said).due_on == make.TODAY


def test_a_horn_that_is_overdue_is_not_renewed_until_yesterday_but_may_be_until_today(lending):
    loan = make.loan(
        lending.horn, lending.pupil, lending.teacher, issued_on=make.TODAY - 9 * DAY, due_on=make.TODAY - 2 * DAY
    )
    said = {"loan": loan, "due_seen": loan.due_on, "reason": "", **by(lending)}
    with pytest.raises(Refused, match="is in the past"):
        dates.renew(due_on=make.TODAY - DAY, **said)
    assert dates.renew(due_on=make.TODAY, **said).due_on == make.TODAY


def test_nobody_loses_a_horn_without_saying_how(lending, loan):
    with pytest.raises(Refused, match="how it was lost"):
        returning.lose(loan=loan, words=" ", **by(lending))


def test_of_two_loans_that_ended_on_one_day_the_later_one_ended_last(lending):
    said = {"issued_on": make.TODAY, "returned_on": make.TODAY}
    _, later = (make.loan(lending.horn, lending.pupil, lending.teacher, **said) for _ in range(2))

    assert last_ended(lending.horn) == later
    assert last_ended_of([lending.horn.pk]) == {lending.horn.pk: later}


def test_the_mouthpiece_of_an_earlier_player_is_not_cleaned_afterwards(lending, loan):
    first = lending.give_back(loan, mouthpiece_cleaned_on=None)
    record_mouthpiece_cleaned(loan=first, cleaned_on=make.TODAY, **by(lending))
    earlier = make.loan(
        lending.horn, lending.pupil, lending.teacher, issued_on=make.TODAY - 9 * DAY, returned_on=make.TODAY - 5 * DAY
    )
    with pytest.raises(Refused, match="has been out again since"):
        record_mouthpiece_cleaned(loan=earlier, cleaned_on=make.TODAY, **by(lending))
    # What is kept on the horn tells of the last player alone.
    lending.horn.refresh_from_db()
    assert not lending.horn.mouthpiece_owed


def swap(lending, loan, to, **said):
    how = {"came_back": [], "mouthpiece_cleaned_on": None, "notes": "", "goes_along": [], **by(lending)}
    look = lambda horn: make.check(horn, lending.teacher, occasion="on-return")  # noqa: E731
    return swapping.swap(loan=loan, to=to, look_over=look, **{**how, **said})


def test_a_late_horn_is_renewed_before_it_is_swapped(lending, loan):
    to = make.horn(lending.school)
    make.check(to, lending.teacher)
    long_ago = make.TODAY - 9 * DAY
    type(loan).objects.update(signed_on=long_ago, issued_on=long_ago, due_on=make.TODAY - DAY)
    with pytest.raises(Refused, match="Renew it first") as no:
        swap(lending, loan, to)
    assert no.value.way_out is not None


def test_a_swap_puts_no_more_on_the_sheet_than_it_has_room_for(lending, loan):
    to = make.horn(lending.school)
    make.check(to, lending.teacher)
    many = [f"thing {n}" for n in range(issuing.MOST_ACCESSORIES + 1)]
    with pytest.raises(Refused, match="A loan sheet has room for"):
        swap(lending, loan, to, came_back=[one.pk for one in loan.accessories.all()], goes_along=many)


@pytest.mark.parametrize(
    ("amount", "taken"), [("999999.99", True), ("1000000", False), ("0.001", False), ("-1", False)]
)
def test_a_charge_has_six_figures_and_cents_at_most(amount, taken):
    said = {"what": "hire", "amount": amount, "due_on": "2026-10-01"}
    form = ChargeForm(said, today=make.TODAY, days=SchoolDays(9), currency="EUR")
    assert form.is_valid() is taken


@pytest.mark.parametrize(("days", "wants"), [(365, False), (366, True), (None, True)])
def test_renewing_asks_for_a_look_where_the_last_is_older_than_the_school_allows(
    lending, loan, as_, at_noon, days, wants
):
    type(lending.school).objects.update(check_days=365)
    type(lending.horn).objects.filter(pk=lending.horn.pk).update(checked_on=days and make.TODAY - days * DAY)
    page = as_(lending.teacher).get(f"/s/{lending.school.slug}/loans/{loan.pk}/renew/")
    assert page.context["wants_look"] is wants
    assert ("Nobody has looked it over yet." in page.content.decode()) is (days is None)


def test_a_new_year_that_has_ended_is_held_against_the_year_before():
    form = form_of("5a", sent={"ends": make.TODAY - timedelta(days=1)})
    assert form.errors["ends"] == ["The year before ends on 30 July 2027; a new one ends later."]
