"""Every table, sentence and plot of the whole picture, worked out again from the raw rows, on the page and on paper."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from html import unescape
from itertools import groupby
from typing import Any

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.lending.models import Loan
from fleet.matching.queries.buying import to_buy
from fleet.people.models import Pupil
from fleet.register.models import Horn
from fleet.reports.queries.costs import shares
from fleet.reports.queries.figures import figures
from fleet.reports.queries.whole_picture import sections
from fleet.workshop.models import ConditionCheck, Finding, RepairJob
from fleet.workshop.models.faults import catalogue
from tests import make
from tests.pages import on_paper
from tests.reports.test_whole_picture import UNTIL, a_schools_years, local

pytestmark = pytest.mark.django_db
SINCE = date(2025, 10, 1)
CLASS = "Horn beginners"
DAY = timedelta(days=1)


@pytest.fixture(scope="module")
def years(built_once: Any):
    return built_once(build)


@pytest.fixture
def world(years: Any, db: None):
    return years()


def build():
    school = make.school(currency="EUR")
    a_schools_years(school, 1)
    a_schools_years(make.school(), 2)
    guardian = make.guardian(school)
    for number in range(40):
        make.pupil(school, guardian, name=f"Wren {number}", group=CLASS)
    on_the_edges(school, guardian)
    # Somebody who left and somebody in no class want nothing.
    make.pupil(school, guardian, name="Gone", group=CLASS, left_on=UNTIL)
    return school


def on_the_edges(school: Any, guardian: Any) -> None:
    """What happens on the first or the last day, or in the last hour, that still counts, and just beyond."""
    head, pupil = make.staff(Role.HEAD, school), make.pupil(school, guardian)

    def late(day: date) -> datetime:
        return datetime(day.year, day.month, day.day, 23, 30, tzinfo=timezone.get_current_timezone())

    new_year = date(2025, 12, 31)
    make.horn(school, created=late(date(2024, 1, 1)), withdrawn_on=new_year)
    make.horn(school, created=late(date(2024, 1, 1)), withdrawn_on=new_year + DAY)
    make.horn(school, created=late(UNTIL), acquired_on=new_year)
    horn = make.horn(school, created=late(new_year))
    make.check(horn, head, grade=3, at=late(new_year))
    for first, last in ((date(2026, 1, 31), date(2026, 2, 28)), (date(2026, 3, 1), date(2026, 4, 30))):
        make.loan(horn, pupil, head, issued_on=first, returned_on=last)
    for day in (SINCE - DAY, SINCE, UNTIL, UNTIL + DAY):
        make.job(horn, head, state="done", at=late(day), cost=Decimal("10.01"))


def told(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


class Raw:
    """The rows of one school as they are in the tables, and the figures a patient clerk would take from them."""

    def __init__(self, school: Any) -> None:
        self.horns = [horn for horn in Horn.objects.all() if horn.school_id == school.pk]
        self.kept = [horn for horn in self.horns if horn.withdrawn_on is None]
        self.loans = [loan for loan in Loan.objects.select_related("horn") if loan.horn.school_id == school.pk]
        mine = {horn.pk for horn in self.horns}
        self.checks = [check for check in ConditionCheck.objects.all() if check.horn_id in mine]
        self.jobs = [
            job
            for job in RepairJob.objects.select_related("horn").order_by("pk")
            if job.horn_id in mine and job.closed_at and SINCE <= local(job.closed_at) <= UNTIL
        ]
        self.costing = [job for job in self.jobs if job.cost is not None]
        self.pupils = [p for p in Pupil.objects.all() if p.school_id == school.pk and p.group and p.left_on is None]

    def fleet(self) -> list[list[str]]:
        kinds: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
        for horn in self.kept:
            kinds[horn.kind or "not identified", horn.stands_in.replace("Bb", "B♭") or "–"].append(horn.where)
        where = ({"cupboard"}, {"out"}, {"repair", "workshop", "away"}, {"not-found"})
        rows = [
            [*kind, str(len(there)), *(str(sum(at in one for at in there)) for one in where)]
            for kind, there in sorted(kinds.items(), key=lambda one: (-len(one[1]), one[0]))
        ]
        all_of = [horn.where for horn in self.kept]
        return [*rows, ["All", "", str(len(all_of)), *(str(sum(at in one for at in all_of)) for one in where)]]

    def condition(self) -> list[list[str]]:
        rows = []
        for day in [*(date(year, 12, 31) for year in range(2022, 2026)), UNTIL]:
            grades = [0] * 5
            for horn in self.horns:
                begun = min(filter(None, [local(horn.created), horn.acquired_on]))
                if begun > day or (horn.withdrawn_on and horn.withdrawn_on <= day):
                    continue
                until = [check for check in self.checks if check.horn_id == horn.pk and local(check.at) <= day]
                grades[max(until, key=lambda check: (check.at, check.pk)).grade if until else 0] += 1
            rows.append([told(day), *map(str, grades[1:]), str(grades[0]), str(sum(grades))])
        return rows

    def months(self) -> list[list[str]]:
        rows, issued, returned = [], 0, 0
        for year, month in [(2025, 10), (2025, 11), (2025, 12), *((2026, month) for month in range(1, 10))]:
            out = [(loan.issued_on.year, loan.issued_on.month) for loan in self.loans]
            back = [(loan.returned_on.year, loan.returned_on.month) for loan in self.loans if loan.returned_on]
            still = sum(one <= (year, month) for one in out) - sum(one <= (year, month) for one in back)
            issued, returned = issued + out.count((year, month)), returned + back.count((year, month))
            name = f"{date(year, month, 1):%b %Y}"
            rows.append([name, str(out.count((year, month))), str(back.count((year, month))), "0", "0", str(still)])
        return [*rows, ["All", str(issued), str(returned), "0", "0", ""]]

    def idle(self) -> list[list[str]]:
        waiting = []
        for horn in self.kept:
            if horn.where != "cupboard":
                continue
            back = [loan.returned_on for loan in self.loans if loan.horn_id == horn.pk and loan.returned_on]
            since = max(back) if back else local(horn.created)
            words = told(since) if back else f"never lent; here since {told(since)}"
            waiting.append((since, horn.number, [horn.number, horn.kind or "not identified", words]))
        longest = sorted(waiting, key=lambda one: one[:2])[:10]
        return [[*row, str((UNTIL - since).days)] for since, _, row in longest]

    def by_fault(self) -> list[list[str]]:
        costs: defaultdict[str, list[Decimal]] = defaultdict(list)
        for job in self.costing:
            found = [catalogue().fault(one.fault).words for one in Finding.objects.filter(job=job).order_by("pk")]
            names = list(dict.fromkeys(found)) or ["no fault named"]
            for name, share in zip(names, shares(job.cost, len(names)), strict=True):
                costs[name].append(share)
        ordered = sorted(costs.items(), key=lambda one: (-sum(one[1]), one[0]))
        return self._costs([(name, sum(parts, Decimal(0)), len(parts)) for name, parts in ordered])

    def by_age(self) -> list[list[str]]:
        bands = ["under 5 years", "5 to 9 years", "10 to 19 years", "20 years and more", "age not known"]
        costs: defaultdict[str, list[Decimal]] = defaultdict(list)
        for job in self.costing:
            done, bought = local(job.closed_at), job.horn.acquired_on
            band = "age not known"
            if bought and bought <= done:
                years = done.year - bought.year - ((done.month, done.day) < (bought.month, bought.day))
                band = bands[(years >= 5) + (years >= 10) + (years >= 20)]
            costs[band].append(job.cost)
        return self._costs([(band, sum(costs[band], Decimal(0)), len(costs[band])) for band in bands if costs[band]])

    def _costs(self, costs: list[tuple[str, Decimal, int]]) -> list[list[str]]:
        rows = [[name, f"{amount:,.2f}", str(jobs)] for name, amount, jobs in costs]
        return [*rows, ["All", f"{sum(job.cost for job in self.costing):,.2f}", ""]]

    def buy(self) -> list[list[str]]:
        """Nobody in the class needs anything but a horn: one is lacking for each beyond those that could be had."""
        usable = 0
        for horn in self.kept:
            mine = sorted(
                (check for check in self.checks if check.horn_id == horn.pk), key=lambda one: (one.at, one.pk)
            )
            open_faults = Finding.objects.filter(check_made=mine[-1], mended_at=None) if mine else []
            minutes = [catalogue().fault(one.fault).minutes for one in open_faults if one.severity in "rx"]
            beyond = horn.grade == Horn.Grade.MUST_NOT_BE_PLAYED and (not minutes or None in minutes)
            # One that nobody has identified may be any: it is looked at before another is bought.
            usable += horn.where in ("cupboard", "workshop", "away") and not beyond
        lacking = str(len(self.pupils) - usable)
        return [["single horn that stands in F", CLASS, lacking], ["All", "", lacking]]

    def tables(self) -> dict[str, list[list[str]]]:
        return {
            "fleet": self.fleet(),
            "condition": self.condition(),
            "loans": self.months(),
            "idle": self.idle(),
            "fault": self.by_fault(),
            "age": self.by_age(),
            "buy": self.buy(),
        }

    def sentences(self) -> list[str]:
        """What is said in words, on the page and on paper alike."""
        issued, returned = self.months()[-1][1:3]
        without = len(self.jobs) - len(self.costing)
        return [
            f"{len(self.kept)} horns are kept, {sum(horn.where == 'out' for horn in self.kept)} of them out on loan; "
            f"{sum(not horn.kept_back for horn in self.kept)} may be lent now.",
            f"{issued} issued and {returned} returned since 1 October 2025.",
            f"{without} ended job{'' if without == 1 else 's'} without a cost left out.",
        ]


def plain(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def tables_of(page: str) -> dict[str, list[list[str]]]:
    found = {}
    for key, section in re.findall(r'<section class="pictured" aria-labelledby="(\w+)">(.*?)</section>', page, re.S):
        body = section.partition("<tbody")[2]
        rows = re.findall(r"<tr[^>]*>(.*?)</tr>", body, re.S)
        found[key] = [[plain(cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", row, re.S)] for row in rows]
    return found


def test_only_columns_of_figures_stand_to_the_right(world):
    for section in sections(replace(figures(world, UNTIL), to_buy=to_buy(world))):
        for at, (name, is_figure) in enumerate(section.columns):
            cells = [row[at].removeprefix("EUR").strip() for row in section.rows]
            if cells:
                assert all(re.fullmatch(r"[\d., %–-]*", one) for one in cells) == is_figure, (name, cells)


def test_every_figure_on_the_page_is_what_the_raw_rows_say(as_, world):
    page = as_(make.staff(Role.HEAD, world)).get(f"/s/{world.slug}/picture/?until={UNTIL}").content.decode()
    raw = Raw(world)

    assert tables_of(page) == raw.tables()
    for sentence in raw.sentences():
        assert sentence in plain(page)
    spent = raw.by_age()[-1][1]
    assert f"repairs cost {spent} EUR since 1 October 2025" in plain(page)
    # The figures mean something in this school: nothing is compared with nothing.
    assert all(len(rows) > 1 and rows[-1][-2:] != ["0", "0"] for rows in raw.tables().values())


def test_every_figure_on_paper_is_what_the_raw_rows_say(as_, world):
    answer = as_(make.staff(Role.HEAD, world)).get(f"/s/{world.slug}/prints/yearly-report.pdf?until={UNTIL}")
    paper = " ".join(on_paper(answer.content))
    raw = Raw(world)

    for key, rows in raw.tables().items():
        for row in rows:
            assert " ".join(" ".join(row).split()) in paper, (key, row)
    for sentence in raw.sentences():
        assert sentence in paper
    assert f"Repairs that ended since 1 October 2025 cost {raw.by_age()[-1][1]} EUR." in paper


def test_every_plot_says_in_words_the_figures_of_its_table(as_, world):
    page = as_(make.staff(Role.HEAD, world)).get(f"/s/{world.slug}/picture/?until={UNTIL}").content.decode()
    raw = Raw(world)
    said = {key: unescape(words) for key, words in re.findall(r'<desc id="plot-(\w+)-desc">(.*?)</desc>', page)}

    assert set(said) == {"fleet", "condition", "loans", "idle", "fault", "age"}
    for key, column in (("fleet", 2), ("loans", 5), ("idle", 3)):
        rows = raw.tables()[key][: None if key == "idle" else -1]
        assert re.findall(r": (\d+)(?:;|$)", said[key]) == [row[column] for row in rows], key
    grades = ["plays well", "small fault", "repair first", "not to be played"]
    assert said["condition"] == "; ".join(
        f"{day}: {never} never checked, " + ", ".join(f"{n} {grade}" for n, grade in zip(by_grade, grades, strict=True))
        for day, *by_grade, never, _ in raw.condition()
    )
    for key in ("fault", "age"):
        whole = [f"{row[0]}: {row[1]}" for row in raw.tables()[key][:-1]]
        # A plot may leave the cents to the table.
        short = [f"{row[0]}: {Decimal(row[1].replace(',', '')):,.0f}" for row in raw.tables()[key][:-1]]
        assert said[key] in ("; ".join(whole), "; ".join(short))


def test_every_bar_is_as_long_as_its_figure(as_, world):
    page = as_(make.staff(Role.HEAD, world)).get(f"/s/{world.slug}/picture/?until={UNTIL}").content.decode()
    raw = Raw(world)

    for key, column in (("fleet", 2), ("loans", 5), ("idle", 3), ("fault", 1), ("age", 1)):
        rows = raw.tables()[key][: None if key == "idle" else -1]
        every = [list(same) for _, same in groupby(float(row[column].replace(",", "")) for row in rows)]
        values = [value for same in every for value in (same if len(same) < 3 else same[:1])]
        plot = re.search(rf'<svg[^>]*class="plot-{key}".*?</svg>', page, re.S)[0]
        wide = [float(right) - float(left) for left, right in re.findall(r'd="M([\d.]+) [\d.]+L([\d.]+)', plot)]
        drawn = [value for value in values if value]
        assert len(wide) == len(drawn)
        scale = max(wide) / max(values)
        assert wide == pytest.approx([max(1.0, value * scale) for value in drawn], abs=0.02), key


def test_a_day_before_last_year_leaves_later_events_out(as_, world):
    """`until` in the past: what happened afterwards is in none of the year's figures."""
    earlier = UNTIL - timedelta(days=400)
    page = as_(make.staff(Role.HEAD, world)).get(f"/s/{world.slug}/picture/?until={earlier}").content.decode()
    tables = tables_of(page)
    months = [earlier.replace(day=1)]
    issued = sum(
        loan.issued_on <= earlier and (loan.issued_on.year, loan.issued_on.month) == (months[0].year, months[0].month)
        for loan in Raw(world).loans
    )

    assert tables["condition"][-1][0] == told(earlier)
    assert tables["loans"][-2][:2] == [f"{months[0]:%b %Y}", str(issued)]
    assert timezone.localdate() > earlier
