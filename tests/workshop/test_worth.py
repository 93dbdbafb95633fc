"""Mend or replace: the reckoning, and who may read it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.ground.access import Role
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.workshop.models import Part, PartUsed, RepairJob
from fleet.workshop.queries.worth import Expected, cost_so_far, expected_cost, suggest, years_since
from tests import make
from tests.pages import folded

sums = st.decimals(0, 100000, places=2)


def word(expected: str | None, value: str | None, so_far: str = "0", age: int | None = None) -> str:
    amount = None if expected is None else Decimal(expected)
    worth = None if value is None else Decimal(value)
    return suggest(so_far=Decimal(so_far), expected=Expected(amount, ""), value=worth, age=age).word


def test_the_suggestion_follows_the_share_of_the_value_the_age_and_what_was_spent():
    # Half the value, or 35 % from 25 years on: from memory, an estimate.
    assert word("500", "1000") == "mend"
    assert word("500.01", "1000") == "ask"
    assert word("400", "1000", age=24) == "mend"
    assert word("400", "1000", age=25) == "ask"
    assert word("1000", "1000") == "replace"
    assert word("400", "1000", so_far="600") == "mend"
    assert word("400", "1000", so_far="600.01") == "ask"


def test_what_is_not_known_is_not_reckoned():
    assert word("400", None) == word("400", "0") == word(None, "1000") == "unknown"


@given(sums, sums, sums.filter(lambda value: value > 0), st.none() | st.integers(0, 100))
def test_dearer_mending_never_turns_the_suggestion_towards_mending(cost, more, value, age):
    order = ["mend", "ask", "replace"]

    def at(expected: Decimal) -> int:
        return order.index(suggest(so_far=Decimal(0), expected=Expected(expected, ""), value=value, age=age).word)

    assert at(cost) <= at(cost + more)


def test_the_quote_comes_first_then_minutes_at_the_rate_with_the_parts_wanted():
    school, part = School(bench_rate=Decimal("60")), Part(name="string", cost=Decimal("1.50"))
    plain = RepairJob()

    assert expected_cost(RepairJob(quote=Decimal(90), cost=Decimal(40)), school, minutes=10).amount == 50
    assert expected_cost(plain, school, minutes=15, parts=[(part, 2)]).amount == Decimal("18.00")
    assert expected_cost(plain, School(), minutes=15, parts=[(part, 2)]).amount is None
    assert expected_cost(plain, school, minutes=None).amount is None


@pytest.mark.parametrize(
    ("day", "years"), [(date(2001, 9, 14), 25), (date(2001, 9, 15), 24), (date(2027, 1, 1), None), (None, None)]
)
def test_age_is_in_whole_years(day, years):
    assert years_since(day, make.TODAY) == years


@pytest.fixture
def world(db: None):
    class World:
        school = make.school(bench_rate=Decimal("60.00"))
        technician = make.staff(Role.TECHNICIAN, school)
        teacher = make.staff(Role.TEACHER, school)
        head = make.staff(Role.HEAD, school)
        horn = make.horn(school, value=Decimal("987.65"), acquired_on=make.TODAY - timedelta(days=800))
        old = make.job(horn, technician, state="done", cost=Decimal("40.00"))
        job = make.job(horn, technician)

    check = make.check(World.horn, World.technician, grade=3)
    make.finding(check, "string-broken", "r", job=World.job)
    part = make.part(World.school, name="cork", cost=Decimal("0.40"))
    PartUsed.objects.create(
        job=World.old, part=part, count=3, cost_each=Decimal("0.40"), at=make.NOW, by=World.technician
    )
    return World


def test_what_repairs_have_cost_is_bills_and_parts_of_this_horn(world):
    other = make.horn(world.school)
    make.job(other, world.technician, cost=Decimal(999))

    assert cost_so_far(world.horn) == Decimal("41.20")
    assert cost_so_far(make.horn(world.school)) == 0


@pytest.mark.usefixtures("at_ten")
def test_the_head_reads_the_reckoning_and_nobody_else_the_value(world, as_):
    address = f"/s/{world.school.slug}/jobs/{world.job.pk}/"
    page = folded(as_(world.head).get(address))

    # A broken string takes 15 minutes (common practice, no source) at 60.00 an hour.
    for words in ("Mend it.", "41.20 EUR", "about 15.00 EUR", "987.65 EUR", "2 years"):
        assert words in page
    for person in (world.technician, world.teacher):
        assert "987.65" not in as_(person).get(address).content.decode()


def test_a_horn_without_a_value_counts_with_the_price_paid_and_the_page_says_so(world, as_):
    head, address = as_(world.head), f"/s/{world.school.slug}/jobs/{world.job.pk}/"
    assert "the price paid, since" not in folded(head.get(address))

    Horn.objects.filter(pk=world.horn.pk).update(value=None, price=Decimal("543.20"))

    page = folded(head.get(address))
    assert "543.20 EUR" in page
    assert "the price paid, since no value is on record" in page


def test_the_reckoning_takes_three_queries_more(world, as_, django_assert_num_queries):
    address = f"/s/{world.school.slug}/jobs/{world.job.pk}/"
    head = as_(world.head)
    head.get(address)

    with django_assert_num_queries(18 + 3):
        head.get(address)
