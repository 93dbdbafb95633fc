"""The bench in numbers, for the whole picture: how long repairs take, what comes back, by maker and by year.

What is counted or added up is so by the database, as in `figures`. No names of pupils.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from statistics import median_low
from typing import Any

from django.db.models import Case, Count, DecimalField, Exists, F, IntegerField, OuterRef, Sum, Value, When
from django.db.models.expressions import Combinable
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import days as in_days
from fleet.people.models import School
from fleet.reports.queries.costs import NO_FAULT, cents, faults_of
from fleet.reports.queries.figures import YEARS, start_of
from fleet.reports.queries.plots import bars
from fleet.reports.queries.whole_picture import Section
from fleet.workshop.models import Finding, PartUsed, RepairJob, RepairJobQuerySet, WorkOrdered
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.works import work

HOUSE, NO_MAKER = _s_lazy("in the house"), _s_lazy("maker not said")


@dataclass(frozen=True, slots=True)
class Done:
    """Jobs done under one heading, with the minutes and the cost that were noted of them."""

    label: str
    jobs: int
    minutes: int
    cost: Decimal


@dataclass(frozen=True, slots=True)
class BenchFigures:
    """`turnaround`: who, jobs, days in the middle and at most. `minutes`: work, minutes, jobs. `parts`: part, pieces,
    cost. `back`: fault, how often mended, how often found again while it should have held."""

    school: School
    since: date
    turnaround: list[tuple[str, int, int, int]]
    minutes: list[tuple[str, int, int]]
    parts: list[tuple[str, int, Decimal]]
    back: list[tuple[str, int, int]]
    by_maker: list[Done]
    by_year: list[Done]


def bench_figures(school: School, since: date, until: date) -> BenchFigures:
    """Jobs done from `since` to `until`; by year, those of the years before too. Eight queries at most."""
    end = start_of(until + timedelta(days=1))
    done = RepairJob.objects.at(school).filter(state=RepairJob.State.DONE, closed_at__lt=end).order_by()
    jobs = done.filter(closed_at__gte=start_of(since))
    years = [date(year, 1, 1) for year in range(until.year, until.year - YEARS, -1)]
    in_year = Case(
        *(When(closed_at__gte=start_of(first), then=Value(first.year)) for first in years), output_field=IntegerField()
    )
    of_years = done.filter(closed_at__gte=start_of(years[-1]))
    used = PartUsed.objects.filter(part__school=school, at__gte=start_of(since), at__lt=end).order_by()
    cost = Sum(F("count") * F("cost_each"), output_field=DecimalField())
    parts = used.values_list("part__name").annotate(pieces=Sum("count"), paid=cost)
    return BenchFigures(
        school=school,
        since=since,
        turnaround=turnaround(jobs),
        minutes=minutes_by_work(jobs),
        parts=sorted(((name, count, cents(cost)) for name, count, cost in parts), key=_most_first),
        back=comes_back(school, since, until),
        by_maker=sorted(_sums(jobs, F("horn__maker")), key=lambda one: (-one.jobs, one.label)),
        by_year=sorted(_sums(of_years, in_year), key=lambda one: one.label),
    )


def turnaround(jobs: RepairJobQuerySet) -> list[tuple[str, int, int, int]]:
    """Days from the opening to the end of a job, and from sending a horn to a repairer to having it back. One query."""
    days: defaultdict[str, list[int]] = defaultdict(list)
    house = str(HOUSE)
    told = ("repairer", "sent_on", "back_on", "opened_at", "closed_at")
    for repairer, sent_on, back_on, opened_at, closed_at in jobs.values_list(*told):
        if sent_on and back_on:
            days[repairer].append((back_on - sent_on).days)
        else:
            days[house].append((timezone.localdate(closed_at) - timezone.localdate(opened_at)).days)
    return sorted(((who, len(took), median_low(took), max(took)) for who, took in days.items()), key=_most_first)


def minutes_by_work(jobs: RepairJobQuerySet) -> list[tuple[str, int, int]]:
    """Minutes noted, by what was mended and what work was ordered; of a job with several split evenly, the minutes
    that do not divide to the first. Three queries."""
    noted = jobs.exclude(minutes=None)
    named = faults_of(noted)
    works = WorkOrdered.objects.filter(job__in=noted.values("pk")).order_by("pk")
    for key, code in works.values_list("job", "work"):
        named.setdefault(key, []).append(_s(work(code).words))
    minutes: Counter[str] = Counter()
    counted: Counter[str] = Counter()
    none = [str(NO_FAULT)]
    taken_by: Any = noted.order_by("pk").values_list("pk", "minutes")
    for key, taken in taken_by:
        headings = list(dict.fromkeys(named.get(key, none)))
        each, over = divmod(taken, len(headings))
        for place, heading in enumerate(headings):
            minutes[heading] += each + (0 if place else over)
            counted[heading] += 1
    return [(heading, sum_, counted[heading]) for heading, sum_ in _most(minutes)]


def comes_back(school: School, since: date, until: date) -> list[tuple[str, int, int]]:
    """Faults that were mended in these days and found again on the same horn while the repair should have held, at
    the same valve or slide where both say which. Two queries at most."""
    end = start_of(until + timedelta(days=1))
    found = Finding.objects.filter(check_made__at__lt=end)
    ended = found.filter(school=school, mended_at__gte=start_of(since), mended_at__lt=end)
    # Most hold: only those that do not are looked at closely.
    later = found.filter(
        check_made__horn=OuterRef("check_made__horn"), check_made__at__gt=OuterRef("mended_at"), fault=OuterRef("fault")
    )
    again = set(ended.filter(Exists(later)).values_list("fault", flat=True))
    if not again:
        return []
    horns = ended.filter(fault__in=again).values("check_made__horn")
    rows = found.filter(check_made__horn__in=horns, fault__in=again)
    found_of = defaultdict(list)
    told = ("check_made__horn", "fault", "places", "check_made__at", "mended_at")
    for horn, fault, places, at, mended_at in rows.order_by("check_made__at", "pk").values_list(*told):
        found_of[horn, fault].append((at, mended_at, set(places)))
    mended: Counter[str] = Counter()
    back: Counter[str] = Counter()
    for (_, fault), ones in found_of.items():
        # The same repair ends the finding on every check that had it.
        for ended_at in {one[1] for one in ones if one[1] and since <= timezone.localdate(one[1]) <= until}:
            words = _s(catalogue().fault(fault).words)
            mended[words] += 1
            where = [one[2] for one in ones if one[1] == ended_at]
            holds = ended_at + timedelta(days=school.warranty_days)
            back[words] += any(ended_at < at <= holds and _same(where, places) for at, _, places in ones)
    return [(words, mended[words], count) for words, count in _most(back) if count]


def _same(where: Collection[set[str]], places: set[str]) -> bool:
    return any(not one or not places or one & places for one in where)


def _most(counted: Counter[str]) -> list[tuple[str, int]]:
    return sorted(counted.items(), key=_most_first)


def _most_first(one: Sequence[Any]) -> tuple[int, str]:
    """By how many, which stands behind its name, then by name."""
    return -one[1], one[0]


def _sums(jobs: RepairJobQuerySet, under: Combinable) -> list[Done]:
    """Jobs under each heading, their minutes and their cost. One query."""
    told = jobs.order_by().values_list(under).annotate(Count("pk"), Sum("minutes"), Sum("cost"))
    return [Done(str(heading or NO_MAKER), many, minutes or 0, cents(cost)) for heading, many, minutes, cost in told]


def bench_sections(figures: BenchFigures) -> list[Section]:
    """The sections that have something to show."""
    currency, held = figures.school.currency, figures.school.warranty_days
    sums = [(_s("jobs"), True), (_s("minutes"), True), (currency, True)]
    of_years = _s("Jobs done in the last %(years)d years.") % {"years": YEARS}
    days = [(who, middle, in_days(middle)) for who, _, middle, _ in figures.turnaround]
    sections = [
        Section(
            "bench-turnaround",
            _s("How long repairs take"),
            _s(
                "Days in the middle: in the house from the opening of a job to its end, else from sending to having "
                "back."
            ),
            bars(_s("Days in the middle"), days),
            [(_s("Who"), False), (_s("jobs"), True), (_s("days"), True), (_s("at most"), True)],
            [[who, *map(str, counted)] for who, *counted in figures.turnaround],
        ),
        Section(
            "bench-minutes",
            _s("Minutes by work"),
            _s("As they were noted; those of a job with several faults or works are split evenly between them."),
            bars(_s("Minutes"), [(label, minutes, str(minutes)) for label, minutes, _ in figures.minutes]),
            [(_s("Work"), False), (_s("minutes"), True), (_s("jobs"), True)],
            [[label, str(minutes), str(jobs)] for label, minutes, jobs in figures.minutes],
        ),
        Section(
            "bench-parts",
            _s("Parts used"),
            _s("From the stock, at what one cost then."),
            bars(_s("Pieces"), [(name, pieces, str(pieces)) for name, pieces, _ in figures.parts]),
            [(_s("Part"), False), (_s("pieces"), True), (currency, True)],
            [[name, str(pieces), money(cost)] for name, pieces, cost in figures.parts],
        ),
        Section(
            "bench-back",
            _s("What comes back"),
            _s("Mended, and found again at the same place within the %(held)d days that a repair should hold.")
            % {"held": held},
            bars(_s("Found again"), [(fault, back, str(back)) for fault, _, back in figures.back]),
            [(_s("Fault"), False), (_s("mended"), True), (_s("found again"), True)],
            [[fault, str(mended), str(back)] for fault, mended, back in figures.back],
        ),
        *(
            Section(
                key,
                heading,
                sentence,
                bars(_s("Jobs done"), [(one.label, one.jobs, str(one.jobs)) for one in ones]),
                [(column, False), *sums],
                [[one.label, str(one.jobs), str(one.minutes), money(one.cost)] for one in ones],
            )
            for key, heading, sentence, column, ones in (
                ("bench-maker", _s("Repairs by maker"), _s("Jobs done in the year."), _s("Maker"), figures.by_maker),
                ("bench-year", _s("Repairs by year"), of_years, _s("In the year"), figures.by_year),
            )
        ),
    ]
    return [one for one in sections if one.rows]
