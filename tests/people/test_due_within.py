"""A holiday names the loans that are due within it, and they are moved to the next school day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.lending.forms.charges import ChargeForm
from fleet.lending.forms.wishes import ReserveForm, WishForm
from fleet.lending.models import LoanPeriod
from fleet.people.models import Holiday, School
from fleet.people.queries.school_days import SchoolDays, due_within
from tests import make
from tests.pages import folded

DAY = timedelta(days=1)
# A Thursday and a Friday; the school day after them is Monday, 17 May.
FIRST, LAST, MONDAY = date(2027, 5, 13), date(2027, 5, 14), date(2027, 5, 17)


def lent(school, head, number, due_on, **fields):
    pupil = make.pupil(school, make.guardian(school), **fields)
    return make.loan(make.horn(school, number=number), pupil, head, due_on=due_on)


def test_the_loans_due_within_a_holiday_are_found_by_its_days(school, head, django_assert_num_queries):
    _, first, last, _ = (lent(school, head, f"H-{n}", FIRST + n * DAY) for n in (-1, 0, 1, 2))
    back = lent(school, head, "H-9", FIRST)
    type(back).objects.filter(pk=back.pk).update(returned_on=make.TODAY)
    lent(elsewhere := make.school(), make.staff(Role.HEAD, elsewhere), "X-1", FIRST)
    bridge = make.holiday(school, name="Bridge", first=FIRST, last=LAST)
    empty = make.holiday(school, name="Summer", first=FIRST + 60 * DAY, last=FIRST + 90 * DAY)

    with django_assert_num_queries(1):
        found = due_within([bridge, empty], school)

    assert found == {bridge.pk: [(first.pk, "H-0"), (last.pk, "H-1")]}
    with django_assert_num_queries(0):
        assert due_within([], school) == {}


def test_a_new_holiday_names_them_and_one_way_moves_them(as_, school, head):
    loans = [lent(school, head, f"H-{n}", FIRST + (n % 2) * DAY) for n in range(4)]
    client, new = as_(head), reverse("people:holiday-new", args=[school.slug])

    page = folded(client.post(new, {"name": "Bridge", "first": FIRST, "last": LAST}, follow=True))

    assert "4 loans are due within it: H-0, H-2, H-1 and 1 more." in page
    asked = "&amp;".join(f"loan={loans[n].pk}" for n in (0, 2, 1, 3))
    move = reverse("desk:several-school-day", args=[school.slug])
    assert f"{move}?{asked}&amp;next=" in page
    look = client.get(move, {"loan": [loan.pk for loan in loans]})
    assert "13 May 2027 is a holiday (Bridge); it would be due on 17 May 2027" in folded(look)
    seen = {f"seen-{line.key}": line.seen for line in look.context["lines"]}
    done = client.post(move, {"loan": [loan.pk for loan in loans], **seen}, follow=True)
    assert "4 loans moved to the next school day." in folded(done)
    assert set(LoanPeriod.objects.values_list("kind", "due_on")) == {("renewed", MONDAY)}
    assert "due within it" not in folded(client.get(reverse("people:settings-year", args=[school.slug])))


def test_what_is_due_on_a_school_day_or_stays_with_a_leaver_is_left_out_or_refused(as_, school, head):
    fine = lent(school, head, "H-1", MONDAY)
    gone = lent(school, head, "H-2", date(2027, 5, 15), name="Ada", left_on=make.TODAY)
    client, move = as_(head), reverse("desk:several-school-day", args=[school.slug])

    look = client.get(move, {"loan": [fine.pk, gone.pk]})

    assert [line.why_not for line in look.context["left_out"]] == ["It is due on a school day, 17 May 2027."]
    answer = client.post(move, {"loan": gone.pk, f"seen-{gone.pk}": gone.due_on.isoformat()})
    assert answer.status_code == 409
    gone.refresh_from_db()
    assert gone.due_on == date(2027, 5, 15)


# The days proposed for a horn that is kept, and for a charge, from a Monday on.
TODAY = date(2027, 5, 3)


def days(*holidays: Holiday) -> SchoolDays:
    return SchoolDays(300, None, holidays)


@pytest.mark.parametrize(
    ("holidays", "kept", "paid"),
    [
        ([], date(2027, 5, 17), date(2027, 6, 2)),
        ([Holiday(name="Spring", first=date(2027, 5, 17), last=date(2027, 6, 2))], date(2027, 6, 3), date(2027, 6, 3)),
    ],
)
def test_the_day_of_a_wish_and_of_a_charge_is_a_school_day(holidays, kept, paid):
    asked = {"today": TODAY, "days": days(*holidays)}
    assert ReserveForm(school=School(), **asked).initial["until"] == kept
    assert ChargeForm(currency="EUR", **asked).initial["due_on"] == paid


def test_a_day_that_is_no_school_day_is_warned_of_once(school):
    make.pupil(school, name="Ada")
    horn = make.horn(school)
    saturday = date(2027, 5, 8)
    asked = {"today": TODAY, "days": days()}
    for form, said in (
        (lambda data: ChargeForm(data, currency="EUR", **asked), {"what": "Hire", "amount": "5", "due_on": saturday}),
        (lambda data: ReserveForm(data, school=school, **asked), {"pupil": "Ada", "until": saturday}),
        (
            lambda data: WishForm(data, school=school, **asked),
            {"horn": horn.number, "since": TODAY, "reserved_until": saturday},
        ),
    ):
        first = form(said)
        assert not first.is_valid()
        assert "8 May 2027 is a Saturday. The next school day is 10 May 2027." in str(first.errors)
        again = form({**said, "warned_of": first.data["warned_of"]})
        assert again.is_valid(), again.errors
        assert "warned_of" not in again.cleaned_data
    assert WishForm({"since": TODAY}, school=school, **asked).is_valid()
