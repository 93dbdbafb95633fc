"""The school year: its end, its holidays, and which days are school days."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.ground.access import Role
from fleet.people.models import Holiday
from fleet.people.queries.school_days import SchoolDays, school_days, years_behind
from fleet.record.models import Act, Deed
from tests import make

DAY = timedelta(days=1)
FRIDAY, MONDAY = date(2027, 2, 5), date(2027, 2, 15)
# A week from Monday to Friday, with its weekends.
WINTER = Holiday(name="Winter", first=date(2027, 2, 8), last=date(2027, 2, 12))
BRIDGE = Holiday(name="Bridge", first=date(2027, 2, 15), last=date(2027, 2, 15))

pytestmark = pytest.mark.either_engine


@pytest.mark.parametrize(
    ("on", "why"),
    [
        (FRIDAY, ""),
        (date(2027, 2, 6), "a Saturday"),
        (date(2027, 2, 7), "a Sunday"),
        (WINTER.first, "a holiday (Winter)"),
        (WINTER.last, "a holiday (Winter)"),
        (date(2027, 2, 13), "a Saturday"),
        (MONDAY, ""),
    ],
)
def test_a_school_day_is_no_weekend_and_in_no_holiday(on, why):
    assert SchoolDays(300, None, [WINTER]).no_school(on) == why


@pytest.mark.parametrize(
    ("on", "holidays", "later", "sooner"),
    [
        (FRIDAY, [WINTER], FRIDAY, FRIDAY),
        (FRIDAY + DAY, [WINTER], MONDAY, FRIDAY),
        (WINTER.last, [WINTER], MONDAY, FRIDAY),
        (WINTER.last, [BRIDGE, WINTER], MONDAY + DAY, FRIDAY),
        (MONDAY, [WINTER], MONDAY, MONDAY),
    ],
)
def test_the_next_and_the_last_school_day_lie_beyond_everything_in_a_row(on, holidays, later, sooner):
    days = SchoolDays(300, None, holidays)
    assert (days.next(on), days.last(on)) == (later, sooner)


@pytest.mark.parametrize(
    ("year_ends", "due"),
    [
        (None, MONDAY),
        (WINTER.first, FRIDAY),
        (WINTER.last, FRIDAY),
        # The school day after the holiday is still of this year.
        (MONDAY, MONDAY),
        # The day asked for lies in the next year already.
        (FRIDAY, MONDAY),
    ],
)
def test_a_day_moves_to_the_next_school_day_but_not_past_the_end_of_the_year(year_ends, due):
    assert SchoolDays(300, year_ends, [WINTER]).moved(WINTER.first, after=FRIDAY - DAY) == due


@pytest.mark.parametrize(("after", "due"), [(FRIDAY - DAY, FRIDAY), (FRIDAY, MONDAY)])
def test_a_day_never_moves_back_to_where_it_would_be_over_already(after, due):
    assert SchoolDays(300, WINTER.last, [WINTER]).moved(WINTER.first, after=after) == due


@pytest.mark.parametrize(
    ("year_ends", "on", "said"),
    [
        (None, date(2027, 2, 15), "12 February 2027 is a holiday (Winter); due on 15 February 2027."),
        (date(2027, 7, 30), date(2027, 7, 30), "The school year ends on 30 July 2027."),
        (date(2027, 7, 31), date(2027, 7, 30), "31 July 2027 is a Saturday; due on 30 July 2027."),
        (make.TODAY + DAY, make.TODAY + DAY, "The school year ends on 15 September 2026."),
        # A year that ends today proposes nothing any more.
        (make.TODAY, date(2027, 2, 15), "12 February 2027 is a holiday (Winter); due on 15 February 2027."),
    ],
)
def test_a_loan_is_due_when_the_year_ends_and_says_why(year_ends, on, said):
    proposed = SchoolDays((WINTER.last - make.TODAY).days, year_ends, [WINTER]).proposed(make.TODAY)
    assert (proposed.on, proposed.said) == (on, said)


@pytest.mark.parametrize(
    ("ends", "today", "ended"),
    [
        (None, date(2026, 11, 28), []),
        (date(2027, 7, 31), date(2026, 11, 28), [(2026, 7, 31), (2025, 7, 31), (2024, 7, 31)]),
        (date(2027, 7, 31), date(2026, 7, 31), [(2025, 7, 31), (2024, 7, 31), (2023, 7, 31)]),
        (date(2026, 7, 31), date(2026, 8, 1), [(2026, 7, 31), (2025, 7, 31), (2024, 7, 31)]),
        (date(2028, 2, 29), date(2027, 3, 1), [(2027, 2, 28), (2026, 2, 28), (2025, 2, 28)]),
    ],
)
def test_the_newest_three_school_years_that_are_over_are_told(ends, today, ended):
    assert years_behind(ends, today) == [date(*one) for one in ended]


def test_a_usual_loan_that_ends_on_a_school_day_says_nothing():
    assert SchoolDays((MONDAY - make.TODAY).days).proposed(make.TODAY).said == ""


@pytest.fixture
def client(school, as_, at_noon):
    return as_(make.staff(Role.HEAD, school))


def page(name, school, *args):
    return reverse(f"people:{name}", args=[school.slug, *args])


def test_a_schools_days_are_its_own(school):
    make.holiday(make.school(), first=FRIDAY)
    assert school_days(school).no_school(FRIDAY) == ""
    make.holiday(school, first=FRIDAY)
    assert school_days(school).no_school(FRIDAY) == "a holiday (Winter)"


@pytest.mark.parametrize(
    ("ends", "status"),
    [
        (make.TODAY - DAY, 422),
        (make.TODAY, 302),
        (make.TODAY + 732 * DAY, 302),
        (make.TODAY + 733 * DAY, 422),
    ],
)
def test_the_end_of_the_year_lies_ahead_and_not_too_far(client, school, ends, status):
    assert client.post(page("settings-year", school), {"year_ends": ends.isoformat()}).status_code == status


def test_an_end_that_is_past_by_now_may_stay_and_the_page_says_that_the_year_is_over(client, school):
    school.year_ends = make.TODAY - DAY
    school.save()

    assert "This school year is over." in client.get(page("settings-year", school)).content.decode()
    assert client.post(page("settings-year", school), {"year_ends": school.year_ends.isoformat()}).status_code == 302
    client.post(page("settings-year", school), {"year_ends": make.TODAY.isoformat()})
    assert "This school year is over." not in client.get(page("settings-year", school)).content.decode()


@pytest.mark.parametrize(
    ("last", "status"),
    [("", 302), ("2027-02-07", 422), ("2027-02-08", 302), ("2027-08-10", 302), ("2027-08-11", 422)],
)
def test_a_holiday_is_one_day_or_up_to_half_a_year(client, school, last, status):
    said = {"name": "Winter", "first": "2027-02-08", "last": last}

    assert client.post(page("holiday-new", school), said).status_code == status
    assert [str(one.last) for one in school.holidays.all()] == ([last or "2027-02-08"] if status == 302 else [])


def test_a_holiday_is_changed_and_removed_and_the_record_says_so(client, school):
    client.post(page("holiday-new", school), {"name": "Winter", "first": "2027-02-08", "last": "2027-02-12"})
    held = school.holidays.get()
    here = page("holiday-edit", school, held.pk)
    client.post(here, {"name": "Winter", "first": "2027-02-08", "last": "2027-02-15"})
    client.post(here, {"do": "remove"})

    assert not school.holidays.exists()
    assert client.post(here, {"do": "remove"}).status_code == 404
    acts = Act.objects.filter(deed__in=[Deed.HOLIDAY_KEPT, Deed.HOLIDAY_REMOVED]).order_by("pk")
    assert [one.lines for one in acts][1:] == [
        [["holiday", "Winter"], ["last day", "2027-02-12", "2027-02-15"]],
        [["holiday", "Winter"]],
    ]


@pytest.mark.parametrize(("last", "shown"), [(make.TODAY, "to come"), (make.TODAY - DAY, "over")])
def test_a_holiday_that_is_over_stands_apart(client, school, last, shown):
    make.holiday(school, first=last - DAY, last=last)
    told = client.get(page("settings-year", school)).context
    assert len(told["holidays"]) == (1 if shown == "to come" else 0)
    assert len(told["over"]) == (1 if shown == "over" else 0)


@pytest.mark.parametrize("rows", [1, 3])
def test_the_page_of_the_year_takes_as_many_queries_for_three_as_for_one(
    client, school, rows, django_assert_num_queries
):
    for n in range(rows):
        make.holiday(school, first=MONDAY + n * DAY)
    with django_assert_num_queries(5):  # session, account, seat, holidays, loans due within them
        client.get(page("settings-year", school))


@pytest.mark.parametrize(
    ("first", "last"),
    [
        (date(2027, 2, 9), date(2027, 2, 8)),
        (date(1899, 12, 31), date(1900, 1, 1)),
        (date(2200, 12, 31), date(2201, 1, 1)),
    ],
)
def test_a_holiday_out_of_order_or_time_cannot_be_kept(school, first, last):
    with pytest.raises(IntegrityError), transaction.atomic():
        make.holiday(school, first=first, last=last)


@pytest.mark.parametrize("on", [date(1900, 1, 1), date(2200, 12, 31)])
def test_a_holiday_at_the_edge_of_our_time_can(school, on):
    assert make.holiday(school, first=on).pk


@pytest.mark.parametrize(
    ("today", "ends", "days"),
    [
        (date(2026, 11, 28), date(2027, 7, 31), [date(2026, 7, 31), date(2025, 7, 31)]),
        (date(2026, 7, 31), date(2026, 7, 31), [date(2025, 7, 31), date(2024, 7, 31)]),
        (date(2026, 8, 1), date(2026, 7, 31), [date(2026, 7, 31), date(2025, 7, 31)]),
        (date(2026, 3, 1), date(2028, 2, 29), [date(2026, 2, 28), date(2025, 2, 28)]),
    ],
)
def test_so_many_years_as_are_asked_for_lie_behind(today, ends, days):
    assert years_behind(ends, today, 2) == days
