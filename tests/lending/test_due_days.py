"""Due days and the school's calendar: proposed on school days, typed ones kept and warned of."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils.translation import override

from fleet.lending.forms.dates import RecallForm
from fleet.lending.models import Loan, LoanPeriod
from fleet.people.models import Holiday
from fleet.people.queries.school_days import SchoolDays
from tests import make

DAY = timedelta(days=1)
SUNDAY, MONDAY = date(2027, 6, 6), date(2027, 6, 7)

pytestmark = [pytest.mark.either_engine, pytest.mark.usefixtures("at_noon")]


@pytest.fixture
def out(lending):
    return lending.issue(due_on=date(2027, 3, 1))


@pytest.fixture
def client(lending, as_):
    lending.school.year_ends = SUNDAY
    lending.school.save()
    return as_(lending.teacher)


def to(name, lending, *args):
    return reverse(f"loans:{name}", args=(lending.school.slug, *args))


def test_a_renewal_is_proposed_until_the_last_school_day_of_the_year(client, lending, out):
    make.holiday(lending.school, first=date(2027, 6, 4), name="Bridge")

    page = client.get(to("renew", lending, out.pk))

    assert page.context["form"]["due_on"].value() == date(2027, 6, 3)
    assert "6 June 2027 is a Sunday; due on 3 June 2027." in page.content.decode()


def test_a_day_somebody_typed_is_warned_of_once_and_kept_as_it_is(client, lending, out):
    sent = {"due_on": SUNDAY.isoformat(), "reason": "", "due_seen": out.due_on.isoformat()}

    warned = client.post(to("renew", lending, out.pk), sent)

    assert warned.status_code == 422
    assert "6 June 2027 is a Sunday. The next school day is 7 June 2027." in warned.content.decode()
    assert warned.context["form"]["due_on"].value() == SUNDAY.isoformat()
    # Another day that is none either is warned of too.
    again = {**sent, "due_on": (SUNDAY - DAY).isoformat(), "warned_of": warned.context["form"]["warned_of"].value()}
    assert client.post(to("renew", lending, out.pk), again).status_code == 422
    again["due_on"] = SUNDAY.isoformat()
    assert client.post(to("renew", lending, out.pk), again).status_code == 302
    assert Loan.objects.get(pk=out.pk).due_on == SUNDAY


def test_a_school_day_is_not_warned_of(client, lending, out):
    sent = {"due_on": MONDAY.isoformat(), "reason": "", "due_seen": out.due_on.isoformat()}
    assert client.post(to("renew", lending, out.pk), sent).status_code == 302


@pytest.mark.parametrize(
    ("due_on", "wanted"),
    [
        (date(2027, 3, 1), date(2026, 9, 21)),
        # Due in a week: a day sooner, on a school day.
        (date(2026, 9, 22), date(2026, 9, 21)),
        (date(2026, 9, 21), date(2026, 9, 18)),
        # Nothing sooner than today.
        (date(2026, 9, 15), make.TODAY),
    ],
)
def test_a_recall_is_proposed_on_a_school_day_before_the_loan_is_due(due_on, wanted):
    form = RecallForm(loan=Loan(due_on=due_on), today=make.TODAY, days=SchoolDays(300))
    assert form.initial["due_on"] == wanted


def test_a_recall_is_not_proposed_in_a_holiday():
    away = [Holiday(name="Autumn", first=date(2026, 9, 21), last=date(2026, 9, 25))]
    form = RecallForm(loan=Loan(due_on=date(2027, 3, 1)), today=make.TODAY, days=SchoolDays(300, None, away))
    assert form.initial["due_on"] == date(2026, 9, 28)


@pytest.mark.parametrize(("due_on", "warned"), [(SUNDAY, True), (MONDAY, False)])
def test_issuing_proposes_a_school_day_and_warns_of_a_typed_one(client, lending, due_on, warned):
    asked = {"horn": lending.horn.pk, "pupil": lending.pupil.pk}
    page = client.get(to("issue", lending), asked)
    assert page.context["draft"].form["due_on"].value() == date(2027, 6, 4)
    assert "6 June 2027 is a Sunday; due on 4 June 2027." in page.content.decode()

    said = {**asked, "due_on": due_on.isoformat(), "guardian": lending.guardian.pk}
    for step in ("sign", ""):
        page = client.get(to("issue", lending), {**said, "then": step})
        assert ("6 June 2027 is a Sunday." in page.content.decode()) is warned
        assert page.context["draft"].form.cleaned_data["due_on"] == due_on


@pytest.mark.parametrize(("due_on", "warned"), [(SUNDAY, True), (MONDAY, False)])
def test_a_batch_proposes_a_school_day_and_warns_of_a_typed_one(client, lending, due_on, warned):
    pair = f"{lending.pupil.pk}.{lending.horn.pk}"
    page = client.get(to("batch", lending), {"pair": pair})
    assert page.context["batch"].form["due_on"].value() == date(2027, 6, 4)

    for step in ("", "change"):
        page = client.get(to("batch", lending), {"pair": pair, "due_on": due_on.isoformat(), "step": step})
        assert ("6 June 2027 is a Sunday." in page.content.decode()) is warned


@pytest.mark.parametrize(
    ("page", "moved", "sentence"),
    [
        ("renew", 0, "It is due on 1 March 2027 already. A renewal ends later than that."),
        ("renew", 1, None),
        ("recall", 0, "It is due on 1 March 2027 anyway. A recall asks for it sooner."),
        ("recall", -3, None),
    ],
)
def test_a_day_that_moves_nothing_is_said_beside_the_field(client, lending, out, page, moved, sentence):
    due_on = out.due_on + timedelta(days=moved)
    sent = {"due_on": due_on.isoformat(), "due_seen": out.due_on.isoformat(), "reason": "A concert"}

    answer = client.post(to(page, lending, out.pk), sent)

    if sentence is None:
        assert answer.status_code == 302
    else:
        assert answer.context["form"].errors == {"due_on": [sentence]}


@pytest.mark.parametrize("later", [DAY, 0 * DAY])
def test_a_loan_is_recalled_where_its_newest_move_is_a_recall_whatever_other_loans_are(lending, later):
    never, renewed, recalled = (make.horn(lending.school) for _ in range(3))
    for horn, kinds in ((never, ()), (recalled, ("renewed", "recalled")), (renewed, ("recalled", "renewed"))):
        loan = make.loan(horn, lending.pupil, lending.teacher, due_on=MONDAY)
        for turn, kind in enumerate(kinds):
            days = {"due_before": SUNDAY, "due_on": MONDAY} if kind == "renewed" else {"due_before": MONDAY}
            made = {"kind": kind, "due_on": SUNDAY, **days, "at": make.NOW + turn * later, "by": lending.teacher}
            LoanPeriod.objects.create(loan=loan, **made)
    make.keep([never, recalled, renewed])

    assert [loan.horn for loan in Loan.objects.at(lending.school).recalled()] == [recalled]


def test_why_a_day_is_none_to_move_to_is_said_in_the_readers_language(out):
    with override("de"):
        assert out.not_later(out.due_on) == (
            "Es ist schon bis 1. März 2027 ausgeliehen. Eine Verlängerung endet später."
        )
        assert out.not_sooner(out.due_on) == (
            "Es ist ohnehin bis 1. März 2027 zurückzubringen. Eine Rückforderung verlangt es früher."
        )
    assert out.not_later(out.due_on + DAY) == out.not_sooner(out.due_on - DAY) == ""
