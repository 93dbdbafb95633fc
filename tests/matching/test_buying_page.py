"""The plan of what to buy, mend and restring at a school: its figures, its sentences, its place in the report."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fleet.ground.access import Role
from fleet.matching.models import ClassPlan
from fleet.matching.queries.planning import BuyingAsked, planned, years_left
from fleet.matching.queries.prices import GUESSED, figures_known, priced_as
from tests import make
from tests.pages import folded, on_paper

pytestmark = pytest.mark.django_db
ASKED = {
    "budget": "1000",
    "years": "2",
    "more": "0",
    "lasts": "30",
    "single": "600",
    "double": "1900",
    "compact": "700",
    "mend": "80",
    "restring": "20",
}
TODAY = date(2026, 9, 14)


def asked(**more: object) -> BuyingAsked:
    money = {name: Decimal(ASKED[name]) for name in ("budget", "mend", "restring")}
    prices = {name: Decimal(ASKED[name]) for name in ("single", "double", "compact")}
    return BuyingAsked(**{"years": 2, "saved": False, "more": 0, "lasts": 30, "prices": prices, **money, **more})  # type: ignore[arg-type]


class Band:
    """Three pupils of one class; a sound horn and a broken one."""

    def __init__(self) -> None:
        self.school = make.school()
        self.head = make.staff(Role.HEAD, self.school)
        for n in range(3):
            make.pupil(self.school, make.guardian(self.school), name=f"Wren {n}", group="5b")
        self.sound = self.horn(acquired_on=date(2010, 1, 1))
        make.check(self.sound, self.head)
        self.broken = self.horn()
        make.finding(make.check(self.broken, self.head, grade=3), "string-broken", "r")
        make.keep([self.sound, self.broken])
        self.page = f"/s/{self.school.slug}/matching/buying/"

    def horn(self, **fields: object):
        return make.horn(self.school, **{"build": "single-f", "stands_in": "F", **fields})


@pytest.fixture
def band() -> Band:
    return Band()


def test_what_is_broken_is_mended_before_a_horn_is_bought_and_each_line_says_why(band):
    plan = planned(band.school, asked(), TODAY)

    first, second = plan.years
    assert [(line.what, line.cost) for line in first.lines] == [
        ("Mend a single horn that stands in F", 80),
        ("Buy a single horn that stands in F", 600),
    ]
    assert first.lines[0].horns == (band.broken,)
    assert first.lines[0].why == (
        "Without it 1 pupil fewer would have a horn this year and each year after. For 5b. A new one would cost 600.00."
    )
    assert (first.year, first.served, first.left, first.spent, plan.before) == (2026, 3, 0, 680, 1)
    assert (second.lines, second.served, plan.spent) == ((), 3, 680)


@pytest.mark.parametrize(("budget", "served"), [("79.99", 1), ("80", 2), ("679", 2), ("680", 3)])
def test_the_budget_is_spent_to_the_cent_and_no_further(band, budget, served):
    (year,) = planned(band.school, asked(budget=Decimal(budget), years=1), TODAY).years

    assert (year.served, year.without) == (served, (("5b", 3 - served),) if served < 3 else ())


def test_pupils_who_come_want_a_horn_and_who_leave_do_not(band):
    assert [year.pupils for year in planned(band.school, asked(more=2), TODAY).years] == [3, 5]
    assert [year.pupils for year in planned(band.school, asked(more=-4), TODAY).years] == [3, 0]


@pytest.mark.parametrize(
    ("acquired", "years"),
    [(None, 4), (date(1950, 1, 1), 1), (date(1997, 6, 1), 1), (date(1998, 6, 1), 2), (date(2026, 1, 1), 4)],
)
def test_a_horn_ages_from_the_day_it_was_acquired_and_one_that_plays_is_good_for_this_year(acquired, years):
    assert years_left(acquired, TODAY, asked(years=4)) == years


def test_a_horn_that_is_old_by_then_is_mended_that_year(band):
    plan = planned(band.school, asked(lasts=17, budget=Decimal(700)), TODAY)

    assert [[line.what.split()[0] for line in year.lines] for year in plan.years] == [["Mend", "Buy"], ["Mend"]]
    assert plan.years[1].lines[0].horns == (band.sound,)


def test_a_reversible_horn_is_restrung_for_a_class_that_plays_in_another_stand(band):
    ClassPlan.objects.create(school=band.school, group="5b", stands_in="F")
    extra = band.horn(build="double-full", stands_in="Bb")
    make.check(extra, band.head)
    make.keep([extra])

    lines = planned(band.school, asked(years=1, budget=Decimal(100)), TODAY).years[0].lines

    assert [line.what for line in lines] == [
        "Mend a single horn that stands in F",
        "Restring a double horn that stands in B♭, so that it stands in F",
    ]
    assert lines[1].horns == (extra,)


def test_prices_begin_with_what_the_school_paid_and_guesses_say_that_they_are(band):
    for price in (500, 700, 900):
        band.horn(price=price)
    band.horn(build="double-full", price=2500)
    band.horn(price=99, struck_out=True)
    make.job(band.broken, band.head, state="done", cost=Decimal(75))
    make.horn(make.school(), build="single-f", price=1)

    known = figures_known(band.school)

    assert known["single"].amount == 700
    assert known["single"].source == "The middle one of 3 that the school paid for."
    assert known["double"].source == "What the school paid for one."
    assert (known["mend"].amount, known["mend"].source) == (75, "What the repair that ended cost.")
    assert (known["compact"].source, known["restring"].source) == (GUESSED, GUESSED)
    band.school.bench_rate = Decimal(50)
    assert figures_known(band.school)["restring"].amount == 25


@pytest.mark.parametrize(
    ("kind", "compact", "sort"),
    [("single", False, "single"), ("single", True, "compact"), ("double", False, "double"), ("double", True, "double")],
)
def test_a_double_is_priced_as_a_double_whatever_its_wrap(kind, compact, sort):
    assert priced_as(kind, compact) == sort


def test_the_page_asks_first_and_then_shows_the_plan_and_the_way_to_print_it(as_, band):
    head = as_(band.head)

    asks = head.get(band.page)
    shows = head.get(band.page, ASKED)

    assert "The plan" not in folded(asks)
    assert str(GUESSED) in folded(asks)
    text = folded(shows)
    assert "Mend a single horn that stands in F: " in text
    assert "680.00" in text
    assert "3 of 3 pupils have a horn" in text
    assert "yearly-report.pdf?budget=1000&amp;years=2" in shows.content.decode()


@pytest.mark.parametrize(
    ("wrong", "ok"),
    [
        ({"years": "0"}, False),
        ({"years": "1"}, True),
        ({"years": "8"}, True),
        ({"years": "9"}, False),
        ({"budget": "-1"}, False),
        ({"budget": ""}, False),
        ({"more": "-200"}, True),
        ({"more": "-201"}, False),
        ({"more": "200"}, True),
        ({"more": "201"}, False),
        ({"lasts": "0"}, False),
        ({"lasts": "1"}, True),
        ({"lasts": "200"}, True),
        ({"lasts": "201"}, False),
    ],
)
def test_what_makes_no_plan_is_said_beside_its_field(as_, band, wrong, ok):
    page = as_(band.head).get(band.page, {**ASKED, **wrong})

    assert ("Not planned yet" in folded(page)) is not ok


def test_a_school_whose_pupils_are_in_no_class_reads_why_there_is_no_plan(as_):
    school = make.school()

    page = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/matching/buying/", ASKED)

    assert "No pupil is in a class yet" in folded(page)


def test_the_yearly_report_has_the_plan_where_it_is_asked_for(as_, band):
    head, report = as_(band.head), f"/s/{band.school.slug}/prints/yearly-report.pdf"

    plain, with_plan = (printed(head.get(report, said).content) for said in ({}, ASKED))

    assert "Proposed for the years" not in plain
    assert "Proposed for the years to come" in with_plan
    assert f"Mend a single horn that stands in F: {band.broken}" in with_plan


def printed(paper: bytes) -> str:
    return " ".join(on_paper(paper))
