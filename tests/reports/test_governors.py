"""What the yearly report answers a governor, either side of the year's first and last day."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.register.models import Disposal, Horn, Standing
from fleet.reports.queries.figures import figures
from fleet.reports.queries.governors import for_governors
from fleet.reports.queries.whole_picture import by_kind
from tests import make
from tests.pages import on_paper

pytestmark = pytest.mark.django_db
UNTIL = date(2026, 9, 14)
SINCE = date(2025, 10, 1)
DAY = timedelta(days=1)
# The day before the year, its first, its last, and the day after.
EDGES = (SINCE - DAY, SINCE, UNTIL, UNTIL + DAY)


def late(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 23, 30, tzinfo=timezone.get_current_timezone())


class Year:
    def __init__(self) -> None:
        self.school = make.school(currency="EUR")
        self.head, self.other = make.staff(Role.HEAD, self.school), make.staff(Role.HEAD, self.school)

    def told(self) -> dict[str, tuple[str, str]]:
        glance, _ = for_governors(figures(self.school, UNTIL))
        return {what: (number, amount) for what, number, amount in glance.rows}

    def classes(self) -> list[list[str]]:
        return for_governors(figures(self.school, UNTIL))[1].rows


@pytest.fixture
def year() -> Year:
    return Year()


def test_the_stock_is_worth_its_values_and_else_the_prices_paid(year):
    make.horn(year.school, value=Decimal("1000.10"), price=Decimal(1))
    make.horn(year.school, price=Decimal("200.20"))
    make.horn(year.school)
    make.horn(year.school, value=Decimal(5), withdrawn_on=UNTIL)
    make.horn(make.school(), value=Decimal(7))

    told = year.told()

    assert told["Horns kept, and what they are worth"] == ("3", "1,200.30")
    assert told["of them counted with the price paid"] == ("1", "200.20")
    assert told["of them without value or price"] == ("1", "–")


def test_what_came_was_lost_found_and_given_up_counts_in_its_year_only(year):
    for worth, day in enumerate(EDGES, start=1):
        horn = make.horn(year.school, acquired_on=day, price=Decimal(10 * worth), value=Decimal(100 * worth))
        for kind in (Standing.Kind.NOT_FOUND, Standing.Kind.FOUND):
            Standing.objects.create(horn=horn, kind=kind, at=late(day), by=year.head)
        given_up(year, horn, day, price=worth, value=2 * worth)
    refused = make.horn(year.school)
    given_up(year, refused, UNTIL, price=1000, value=1000, approved=False)
    Horn.objects.filter(pk=refused.pk).update(struck_out=True)

    told = year.told()

    assert told["Acquired, and what was paid"] == ("2", "50.00")
    assert told["Lost or not found, and what they were worth"] == ("2", "500.00")
    assert told["Found again"] == ("2", "–")
    assert told["Given up for good, and what they brought"] == ("2", "5.00")
    assert told["what those were worth at the time"] == ("2", "10.00")


def given_up(year: Year, horn: Horn, day: date, *, price: int, value: int, approved: bool = True) -> None:
    Disposal.objects.create(
        horn=horn,
        method="sold",
        on=day,
        reason="Spare",
        price=price,
        value=value,
        proposed_at=late(day),
        proposed_by=year.head,
        decided_at=late(day),
        decided_by=year.other,
        approved=approved,
    )


def test_charges_are_told_by_what_became_of_them_and_by_currency(year):
    loan = make.loan(make.horn(year.school), make.pupil(year.school, make.guardian(year.school)), year.head)
    for amount, day in enumerate(EDGES, start=1):
        make.charge(loan, year.head, amount=amount, currency="EUR", made_at=late(day))
    make.charge(loan, year.head, amount=7, currency="EUR", made_at=late(UNTIL), state="paid", settled_on=UNTIL)
    make.charge(loan, year.head, amount=9, currency="USD", made_at=late(UNTIL))

    told = year.told()

    assert told["Charges to families"] == ("3", "12.00")
    assert (told["of them due"], told["of them paid"]) == (("2", "5.00"), ("1", "7.00"))
    assert told["Charges to families in USD"] == ("1", "9.00")


def test_counts_are_those_that_ended_in_the_year_and_who_signed_them(year):
    for day in EDGES:
        year.school.counts.create(
            kind="full",
            title="All",
            started_at=late(day - DAY),
            started_by=year.head,
            ended_at=late(day),
            ended_by=year.head,
            **({"signed_at": late(day), "signed_by": year.other} if day == UNTIL else {}),
        )

    told = year.told()

    assert told["Counts ended"] == ("2", "–")
    assert told["of them signed by somebody who did not count"] == ("1", "–")


def test_loans_are_told_by_class_with_those_that_are_out_at_the_end(year):
    guardian = make.guardian(year.school)
    for group, begun, ended in (
        ("5b", SINCE - DAY, SINCE),
        ("5b", SINCE, None),
        ("5b", UNTIL, UNTIL),
        ("5b", UNTIL + DAY, None),
        ("6a", SINCE - DAY, UNTIL + DAY),
        ("7c", SINCE - DAY, SINCE - DAY),
        ("", UNTIL, None),
    ):
        pupil = make.pupil(year.school, guardian, group=group)
        make.loan(make.horn(year.school), pupil, year.head, issued_on=begun, returned_on=ended)

    assert year.classes() == [["in no class", "1", "1"], ["5b", "2", "1"], ["6a", "0", "1"], ["All", "3", "3"]]


@pytest.mark.parametrize(
    ("brought", "said"),
    [
        ([], ""),
        ([{"state": "bench"}], " Besides, 1 horn is in repair while its loan goes on."),
        (
            [{"state": "bench"}, {"state": "away", "repairer": "Bell and Sons"}],
            " Besides, 2 horns are in repair while their loans go on.",
        ),
    ],
)
def test_the_report_says_why_more_loans_run_than_horns_are_out(year, as_, brought, said):
    for fields in [None, *brought]:
        horn = make.horn(year.school)
        make.loan(horn, make.pupil(year.school, make.guardian(year.school)), year.head)
        if fields:
            make.job(horn, year.head, brought_at=make.NOW, **fields)
    make.job(make.horn(year.school), year.head, state="bench")

    until = figures(year.school, UNTIL)
    content = as_(year.head).get(f"/s/{year.school.slug}/prints/yearly-report.pdf").content
    first = on_paper(content)[0]

    assert until.months[-1].out == until.out + until.lent_in_repair == 1 + len(brought)
    assert f"of the day of printing.{said} The year at a glance" in first
    assert by_kind(until).sentence.endswith(f"may be lent now.{said}")


def test_the_report_begins_with_the_year_at_a_glance_and_leaves_no_page_half_empty(year, as_):
    for _ in range(30):
        horn = make.horn(year.school, value=Decimal(10))
        make.loan(horn, make.pupil(year.school, make.guardian(year.school), group="5b"), year.head)

    content = as_(year.head).get(f"/s/{year.school.slug}/prints/yearly-report.pdf").content
    first = on_paper(content)[0]

    assert "Horns kept, and what they are worth 30 300.00" in first
    assert "Loans by class" in first


def test_what_was_missed_counts_by_its_day_and_a_horn_missed_twice_once(year):
    horn = make.horn(year.school, value=Decimal(100))
    for kind, on in (("not-found", SINCE), ("found", SINCE + DAY), ("not-found", UNTIL - DAY), ("found", UNTIL)):
        # Some was put on record after the year.
        Standing.objects.create(horn=horn, kind=kind, on=on, at=late(UNTIL + DAY), by=year.head)
    earlier = make.horn(year.school, value=Decimal(7))
    Standing.objects.create(horn=earlier, kind="not-found", on=SINCE - DAY, at=late(UNTIL), by=year.head)

    told = year.told()

    assert told["Lost or not found, and what they were worth"] == ("1", "100.00")
    assert told["Found again"] == ("1", "–")
