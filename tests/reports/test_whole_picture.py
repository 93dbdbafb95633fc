"""The whole picture, every figure worked out again from the raw rows, on the page and on paper."""

from __future__ import annotations

import random
import re
from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.utils import timezone
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.register.models import Horn
from fleet.reports.queries.costs import age_band, shares
from fleet.reports.queries.figures import figures, last_months
from fleet.reports.queries.plots import bars, folded, stacks
from fleet.reports.queries.whole_picture import sections
from fleet.workshop.models import ConditionCheck, Finding, RepairJob
from fleet.workshop.models.faults import catalogue
from identify.core.drawing.picture import Words, svg
from tests import make

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]
UNTIL, EARLIER = date(2026, 9, 14), date(2025, 3, 3)
DAY = timedelta(days=1)
FAULTS = ("string-broken", "bell-dented", "cork-worn")


def a_schools_years(school, seed: int) -> None:
    """Horns with checks, loans and jobs over six years, drawn at random but the same every time."""
    dice = random.Random(seed)
    head = make.staff(Role.HEAD, school)
    pupil = make.pupil(school, make.guardian(school))
    faults = [fault for fault in FAULTS if fault in catalogue().by_code]
    faults += [code for code in list(catalogue().by_code)[:3] if code not in faults]

    def moment(day: date) -> datetime:
        return datetime(day.year, day.month, day.day, dice.randrange(24), 30, tzinfo=timezone.get_current_timezone())

    for _ in range(25):
        began = UNTIL - timedelta(days=dice.randrange(30, 2200))
        build, stand = dice.choice([("single-f", "F"), ("double-full", "F"), ("double-full", "Bb"), ("", "")])
        withdrawn = began + timedelta(days=dice.randrange(20, 1500)) if dice.random() < 0.2 else None
        horn = make.horn(
            school,
            build=build,
            stands_in=stand,
            created=moment(began),
            acquired_on=began - timedelta(days=dice.randrange(9000)) if dice.random() < 0.8 else None,
            withdrawn_on=withdrawn if withdrawn and withdrawn <= UNTIL else None,
            not_found_on=UNTIL if dice.random() < 0.1 else None,
        )
        day = began
        while (day := day + timedelta(days=dice.randrange(20, 400))) < UNTIL and not horn.withdrawn_on:
            check = make.check(horn, head, grade=dice.randrange(1, 5), at=moment(day))
            back = day + timedelta(days=dice.randrange(1, 200))
            still_out = back > UNTIL and not horn.not_found_on
            if back <= UNTIL or still_out:
                make.loan(
                    horn, pupil, head, issued_on=day, returned_on=None if still_out else back, check_at_issue=check
                )
            if still_out:
                break
            cost = Decimal(dice.randrange(30_000)) / 100 if dice.random() < 0.8 else None
            job = make.job(horn, head, state=dice.choice(["done", "given-up"]), at=moment(day), cost=cost)
            for fault in dice.sample(faults, dice.randrange(4)):
                make.finding(check, fault, "r", job=job)
            day = back


@pytest.fixture(scope="module")
def years(built_once):
    return built_once(build)


@pytest.fixture
def world(years, db):
    return years()


def build():
    school = make.school(currency="EUR")
    a_schools_years(school, 1)
    a_schools_years(make.school(), 2)
    return school


def of(school):
    return [horn for horn in Horn.objects.all() if horn.school_id == school.pk]


def local(moment: datetime) -> date:
    return timezone.localtime(moment).date()


def test_the_fleet_adds_up_horn_by_horn(world):
    told = figures(world, UNTIL)
    kept = [horn for horn in of(world) if horn.withdrawn_on is None]

    for kind in told.by_kind:
        same = [
            horn
            for horn in kept
            if (horn.kind or "not identified") == kind.build and horn.stands_in.replace("Bb", "B♭") == kind.stand
        ]
        where = [horn.where for horn in same]
        assert (kind.horns, kind.cupboard, kind.out, kind.repair, kind.not_found) == (
            len(same),
            where.count("cupboard"),
            where.count("out"),
            where.count("repair") + where.count("workshop") + where.count("away"),
            where.count("not-found"),
        )
    assert told.horns == len(kept) > 10
    assert told.out == len([horn for horn in kept if horn.holder_name and not horn.on_bench]) > 0


@pytest.mark.parametrize("until", [UNTIL, EARLIER])
def test_each_years_condition_is_the_newest_check_of_each_horn_kept_then(world, until):
    told = figures(world, until)
    checks = [check for check in ConditionCheck.objects.select_related("horn") if check.horn.school_id == world.pk]

    assert [one.on for one in told.condition] == [date(until.year - back, 12, 31) for back in (4, 3, 2, 1)] + [until]
    for one in told.condition:
        grades = [0, 0, 0, 0, 0]
        for horn in of(world):
            begun = min(filter(None, [local(horn.created), horn.acquired_on]))
            if begun > one.on or (horn.withdrawn_on and horn.withdrawn_on <= one.on):
                continue
            mine = [check for check in checks if check.horn_id == horn.pk and local(check.at) <= one.on]
            grades[max(mine, key=lambda check: (check.at, check.pk)).grade if mine else 0] += 1
        assert [one.unchecked, *one.grades] == grades
    assert until == EARLIER or told.condition[-1].horns == told.horns
    assert sum(told.condition[-1].grades) > 5


@pytest.mark.parametrize("until", [UNTIL, EARLIER])
def test_every_months_loans_are_those_of_the_loans_list(world, until):
    told = figures(world, until)
    loans = [loan for loan in Loan.objects.select_related("horn") if loan.horn.school_id == world.pk]

    assert [one.first for one in told.months] == last_months(until, 12)
    for one in told.months:
        end = min(until, (one.first + 31 * DAY).replace(day=1) - DAY)
        assert one.issued == sum(one.first <= loan.issued_on <= end for loan in loans)
        assert one.returned == sum(one.first <= (loan.returned_on or date.max) <= end for loan in loans)
        assert one.out == sum(loan.issued_on <= end < (loan.returned_on or date.max) for loan in loans)
    assert sum(one.issued for one in told.months) > 5


def test_the_horns_idle_longest_are_those_back_for_longest(world):
    told = figures(world, UNTIL)
    waited = []
    for horn in of(world):
        if horn.where == "cupboard":
            back = [loan.returned_on for loan in horn.loans.all() if loan.returned_on]
            waited.append((UNTIL - (max(back) if back else local(horn.created))).days)

    assert [one.days for one in told.idle] == sorted(waited, reverse=True)[:10]
    (shown,) = (one for one in sections(told) if one.key == "idle")
    assert shown.sentence == "Horns in their places that nobody has had for longest."


def test_repair_costs_by_fault_and_by_age_both_add_up_to_what_the_jobs_cost(world):
    told = figures(world, UNTIL)
    jobs = [
        job
        for job in RepairJob.objects.select_related("horn")
        if job.horn.school_id == world.pk and job.closed_at and date(2025, 10, 1) <= local(job.closed_at) <= UNTIL
    ]
    spent = sum(job.cost for job in jobs if job.cost is not None)

    assert told.spent == spent > 0
    assert sum(cost.amount for cost in told.by_fault) == spent
    assert told.jobs_without_cost == sum(job.cost is None for job in jobs)
    for cost in told.by_age:
        same = [
            job
            for job in jobs
            if job.cost is not None and age_band(job.horn.acquired_on, local(job.closed_at)) == cost.label
        ]
        assert (cost.amount, cost.jobs) == (sum(job.cost for job in same), len(same))
    for cost in told.by_fault:
        exact, number = Decimal(0), 0
        for job in jobs:
            named = {catalogue().fault(f.fault).words for f in Finding.objects.filter(job=job)} or {"no fault named"}
            if job.cost is not None and cost.label in named:
                exact, number = exact + job.cost / len(named), number + 1
        # To the cent, a part may differ from the exact one by less than a cent a fault.
        assert abs(cost.amount - exact) < Decimal("0.03") * number
        assert cost.jobs == number


def test_the_picture_takes_the_same_queries_for_a_small_fleet_and_a_large_one(as_, django_assert_num_queries, world):
    small = make.school()
    make.job(make.horn(small), make.staff(Role.HEAD, small), state="done", at=timezone.now(), cost=Decimal(5))
    check = make.check(small.horns.get(), make.staff(Role.HEAD, small), grade=3)
    make.finding(check)
    # Here as long as the others: of years before the first horn came nothing is asked.
    make.horn(small, acquired_on=date(2000, 1, 1))
    for school in (small, world):
        make.pupil(school, make.guardian(school), group="Horn beginners")
        browser = as_(make.staff(Role.HEAD, school))
        # Session, account, seat; what jobs cost, their faults, those without a cost; horns, those of each of four days,
        # loans, horns; how many pupils; the bench; the classes, and what matching asks: pupils, horns, holders, faults,
        # plans, weights.
        with django_assert_num_queries(36):
            browser.get(f"/s/{school.slug}/picture/")


def test_a_school_without_anything_has_an_empty_picture_and_report(as_):
    school = make.school()
    browser = as_(make.staff(Role.HEAD, school))

    page = browser.get(f"/s/{school.slug}/picture/").content.decode()
    assert re.search(r"\b0\b|yearly-report|id=.until", page[page.index("<main") :]) is None
    assert "No horn is on record yet." in page
    assert 'id="until"' in browser.get(f"/s/{school.slug}/picture/?until=2020-01-01").content.decode()
    assert 'class="pictured"' not in page
    paper = PdfReader(BytesIO(browser.get(f"/s/{school.slug}/prints/yearly-report.pdf").content))
    assert len(paper.pages) == 1
    assert "Loans by class: No horn was lent." in paper.pages[0].extract_text()


def test_the_year_is_asked_for_above_the_figures(as_):
    school = make.school()
    make.horn(school)

    page = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/picture/").content.decode()

    assert 0 < page.index('id="until"') < page.index('class="pictured"')


@pytest.mark.parametrize("asked", ["", "nonsense", "2026-02-31", "9999-01-01", "0001-01-01"])
def test_a_day_that_makes_no_sense_is_today(as_, asked):
    school = make.school()

    answer = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/picture/", {"until": asked})

    assert answer.context["figures"].until == timezone.localdate()


def test_twelve_months_end_with_the_one_that_runs():
    assert last_months(date(2026, 2, 28), 3) == [date(2025, 12, 1), date(2026, 1, 1), date(2026, 2, 1)]
    assert last_months(date(2026, 12, 1), 12)[0] == date(2026, 1, 1)


@pytest.mark.parametrize(
    ("acquired", "on", "band"),
    [
        (date(2020, 9, 15), date(2025, 9, 14), "under 5 years"),
        (date(2020, 9, 14), date(2025, 9, 14), "5 to 9 years"),
        (date(2004, 2, 29), date(2024, 2, 28), "10 to 19 years"),
        (date(2004, 2, 29), date(2024, 2, 29), "20 years and more"),
        (None, date(2024, 2, 29), "age not known"),
        (date(2025, 1, 1), date(2024, 2, 29), "age not known"),
    ],
)
def test_an_age_is_counted_in_whole_years(acquired, on, band):
    assert age_band(acquired, on) == band


def test_a_cost_is_split_to_the_cent_and_adds_up():
    assert shares(Decimal("10.00"), 3) == [Decimal("3.34"), Decimal("3.33"), Decimal("3.33")]
    assert shares(Decimal("0.01"), 2) == [Decimal("0.01"), Decimal("0.00")]


def test_a_plot_draws_its_values_to_scale_and_says_them():
    drawn = svg(bars("Days", [("A-1", 10, "10"), ("B & C", 5, "5"), ("D", 0, "0")]), "days")
    wide = [float(right) - float(left) for left, right in re.findall(r'd="M([\d.]+) [\d.]+L([\d.]+)', drawn)]

    assert wide == [158.0, 79.0]
    assert '<desc id="days-desc">A-1: 10; B &amp; C: 5; D: 0</desc>' in drawn
    stacked = svg(stacks("Grades", ("good", "bad"), [("2025", (3, 1)), ("2026", (0, 2))]), "grades")
    assert "2025: 3 good, 1 bad; 2026: 0 good, 2 bad" in stacked


@pytest.mark.parametrize("horns", [9_999, 10_000, 120_000])
def test_the_figure_behind_a_full_bar_stands_in_the_picture(horns):
    pair = ("good", "bad")
    for drawn in (stacks("Grades", pair, [("2026", (horns, 0))]), bars("Horns", [("2026", horns, str(horns))])):
        figure = next(mark for mark in drawn.marks if isinstance(mark, Words) and mark.said == str(horns))
        # A figure is 1,303 of 2,048 units wide in DejaVu Sans, a wide face (its table hmtx).
        assert figure.x + len(figure.said) * figure.size * 1303 / 2048 <= drawn.width


def test_a_long_name_of_a_bar_goes_on_below_and_stands_whole():
    name = "voll ausgebautes Doppelhorn in F und B, steht in F"
    picture = bars("Kinds", [(name, 4, "4"), ("Einfachhorn in F", 5, "5")])

    said = [mark for mark in picture.marks if isinstance(mark, Words)]
    assert (" ".join(one.said for one in said[:2]), said[0].y < said[1].y) == (name, True)
    assert len({one.y for one in said}) == len(said)


def test_three_equal_bars_that_follow_one_another_are_one_and_two_are_two():
    two, three = [("A", 1, "1"), ("B", 1, "1")], [("C", 2, "2"), ("D", 2, "2"), ("E", 2, "2")]

    assert folded([*two, *three, ("F", 1, "1")]) == [*two, ("C and 2 more", 2, "2 each"), ("F", 1, "1")]
    drawn = svg(bars("Days", three), "days")
    assert '<desc id="days-desc">C: 2; D: 2; E: 2</desc>' in drawn
    assert drawn.count("L") < svg(bars("Days", two), "days").count("L")
