"""The whole picture of a school's horns in numbers, for the page and for paper. No names of pupils.

Every figure is a fold over plain rows of one school, so that a test can fold them again its own way.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.lending.models import Ended, Loan
from fleet.matching.queries.buying import ToBuy
from fleet.people.models import School
from fleet.people.queries.school_days import years_behind
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand, kind_in_words, stand_in_words
from fleet.reports.queries.costs import Cost, cost_by_age, cost_by_fault
from fleet.workshop.models import ConditionCheck, RepairJob

YEARS = 5
IDLE_SHOWN = 10


@dataclass(frozen=True, slots=True)
class KindFigures:
    """Horns of one build and stand that the school keeps, where they are, and how many may be lent now."""

    build: str
    stand: str
    words: str
    horns: int
    cupboard: int
    out: int
    repair: int
    not_found: int
    ready: int


@dataclass(frozen=True, slots=True)
class GradesOn:
    """How the horns kept on a day stood by the newest check of each until then: grades 1 to 4, and never checked."""

    on: date
    grades: tuple[int, int, int, int]
    unchecked: int

    @property
    def horns(self) -> int:
        return sum(self.grades) + self.unchecked


@dataclass(frozen=True, slots=True)
class Month:
    """A month's loans: issued in it, ended in it one way or another, and out at its end (or today, in the month that
    runs)."""

    first: date
    issued: int
    returned: int
    swapped: int
    lost: int
    out: int


@dataclass(frozen=True, slots=True)
class Idle:
    """A horn in its place, and since when: its last return, or its registration where it was never lent."""

    horn: Horn
    since: date
    lent_before: bool
    days: int


@dataclass(frozen=True, slots=True)
class Figures:
    """The picture on a day: the fleet as it is, the year until then."""

    school: School
    until: date
    since: date
    by_kind: list[KindFigures]
    condition: list[GradesOn]
    months: list[Month]
    idle: list[Idle]
    by_fault: list[Cost]
    by_age: list[Cost]
    jobs_without_cost: int
    to_buy: ToBuy | None = None

    @property
    def horns(self) -> int:
        return sum(kind.horns for kind in self.by_kind)

    @property
    def out(self) -> int:
        return sum(kind.out for kind in self.by_kind)

    @property
    def ready(self) -> int:
        """Horns that may be lent now."""
        return sum(kind.ready for kind in self.by_kind)

    @property
    def spent(self) -> Decimal:
        return sum((cost.amount for cost in self.by_age), Decimal(0))


def figures(school: School, until: date) -> Figures:
    """Everything the picture shows, for the twelve months that end with the month of `until`, but what to buy.

    Seven queries. `to_buy` is left to whoever asks for it, since matching takes long in a large school.
    """
    months = last_months(until, 12)
    since = months[0]
    done = list(
        RepairJob.objects.at(school)
        .exclude(closed_at=None)
        .filter(closed_at__gte=start_of(since), closed_at__lt=start_of(until + timedelta(days=1)))
        .select_related("horn")
        .order_by("pk")
    )
    costing = [job for job in done if job.cost is not None]
    return Figures(
        school=school,
        until=until,
        since=since,
        by_kind=by_kind(school),
        condition=condition(school, until),
        months=loans_by_month(school, months, until),
        idle=idle(school, until),
        by_fault=cost_by_fault(costing),
        by_age=cost_by_age(costing),
        jobs_without_cost=len(done) - len(costing),
    )


def start_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=timezone.get_current_timezone())


def last_months(until: date, number: int) -> list[date]:
    """The first days of so many months, the one of `until` being the last."""
    first = until.year * 12 + until.month - number
    return [date(month // 12, month % 12 + 1, 1) for month in range(first, first + number)]


def by_kind(school: School) -> list[KindFigures]:
    """Horns kept, by build and stand, the most numerous first."""
    rows = Horn.objects.at(school).kept().values_list("build", "stands_in", "where", "may_be_lent")
    by_kind: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    ready: Counter[tuple[str, str]] = Counter()
    for build, stand, where, may_be_lent in rows:
        by_kind[build, stand][where] += 1
        ready[build, stand] += may_be_lent
    kinds = [
        KindFigures(
            build=kind_in_words(build) or _s("not identified"),
            stand=stand_in_words(stand),
            words=kind_and_stand(build, stand) or _s("not identified"),
            horns=there.total(),
            cupboard=there[Horn.Where.IN_PLACE],
            out=there[Horn.Where.OUT],
            repair=sum(there[where] for where in Horn.IN_REPAIR),
            not_found=there[Horn.Where.NOT_FOUND],
            ready=ready[build, stand],
        )
        for (build, stand), there in by_kind.items()
    ]
    return sorted(kinds, key=lambda kind: (-kind.horns, kind.build, kind.stand))


def condition(school: School, until: date, years: int = YEARS) -> list[GradesOn]:
    """The grades on the last day of each year before, of the school's own where it has said when that ends, and on
    `until`; oldest first. Two queries."""
    ends = school.year_ends or date(until.year, 12, 31)
    days = [*reversed(years_behind(ends, until, years - 1)), until]
    there = Horn.objects.at(school).ever_had()
    horns = list(there.values_list("pk", "created", "acquired_on", "withdrawn_on"))
    looked = ConditionCheck.objects.at(school).filter(at__lt=start_of(until + timedelta(days=1)))
    checks = list(looked.order_by("at", "pk").values_list("horn", "at", "grade"))
    newest: dict[int, int] = {}
    place, told = 0, []
    for day in days:
        end = start_of(day + timedelta(days=1))
        while place < len(checks) and checks[place][1] < end:
            newest[checks[place][0]] = checks[place][2]
            place += 1
        kept = [
            key
            for key, created, acquired, withdrawn in horns
            if (created < end or (acquired is not None and acquired <= day)) and (withdrawn is None or withdrawn > day)
        ]
        grades = Counter(newest.get(key, 0) for key in kept)
        told.append(GradesOn(day, (grades[1], grades[2], grades[3], grades[4]), grades[0]))
    return told


def loans_by_month(school: School, months: Sequence[date], until: date) -> list[Month]:
    """Loans issued, ended and out, month by month. One query."""
    told_by = ("issued_on", "returned_on", "lost_words", "replaced_by__in_place_of")
    loans = list(Loan.objects.at(school).select_related("replaced_by").only(*told_by).order_by("pk"))
    ended = Counter(
        (_first(one.returned_on), one.ended_as) for one in loans if one.returned_on and one.returned_on <= until
    )
    told = []
    for first in months:
        end = min(until, _next_month(first) - timedelta(days=1))
        told.append(
            Month(
                first=first,
                issued=sum(first <= one.issued_on <= end for one in loans),
                returned=ended[first, Ended.CAME_BACK],
                swapped=ended[first, Ended.SWAPPED],
                lost=ended[first, Ended.LOST],
                out=sum(one.issued_on <= end and (one.returned_on is None or one.returned_on > end) for one in loans),
            )
        )
    return told


def _first(of: date) -> date:
    return of.replace(day=1)


def _next_month(first: date) -> date:
    return date(first.year + first.month // 12, first.month % 12 + 1, 1)


def idle(school: School, until: date, most: int = IDLE_SHOWN) -> list[Idle]:
    """The horns in their places that nobody has had for longest. One query."""
    horns: Any = Horn.objects.at(school).filter(where=Horn.Where.IN_PLACE).annotate(back=Max("loans__returned_on"))
    told = []
    for horn in horns.order_by("number_stem", "number_tail", "pk"):
        since = horn.back or timezone.localdate(horn.created)
        told.append(Idle(horn, since, horn.back is not None, (until - since).days))
    return sorted((one for one in told if one.days >= 0), key=lambda one: one.since)[:most]
