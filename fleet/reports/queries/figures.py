"""The whole picture of a school's horns in numbers, for the page and for paper. No names of pupils.

What is counted by kind or by day is counted by the database; a test folds plain rows of its own beside it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from operator import itemgetter
from typing import NamedTuple

from django.db.models import Case, Count, IntegerField, OuterRef, Q, Subquery, Sum, When
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.lending.models import Loan
from fleet.matching.queries.buying import ToBuy
from fleet.people.models import School
from fleet.people.queries.school_days import years_behind
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand, kind_in_words, stand_in_words
from fleet.reports.queries.costs import Cost, cents, cost_by_age, cost_by_fault, faults_of, paid
from fleet.workshop.models import ConditionCheck, RepairJob

YEARS = 5
# Horns up to which all is told unasked: for the years before and for repairs every check and job is looked at.
AT_ONCE = 10_000
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
    # In repair while their loans go on: out in the loans, and not where the horn is.
    lent_in_repair: int
    condition: list[GradesOn]
    months: list[Month]
    idle: list[Idle]
    spent: Decimal
    jobs_with_cost: int
    jobs_without_cost: int
    by_fault: list[Cost]
    by_age: list[Cost]
    # Of a large school that did not ask: without the years before, and without what repairs cost by fault and by age.
    brief: bool = False
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


def figures(school: School, until: date, *, whole: bool = False) -> Figures:
    """Everything the picture shows, for the twelve months that end with the month of `until`, but what to buy; of a
    large school in `brief` unless the `whole` is asked for.

    Seventeen queries at most. `to_buy` is left to whoever asks for it, since matching takes long in a large school.
    """
    now = _now(school)
    kinds = by_kind(now)
    brief = not whole and sum(kind.horns for kind in kinds) > AT_ONCE
    months = last_months(until, 12)
    since = months[0]
    done = RepairJob.objects.at(school).filter(closed_at__gte=start_of(since), closed_at__lt=_end(until))
    costing = [] if brief else paid(done)
    paid_for = done.aggregate(sum=Sum("cost"), jobs=Count("cost"), without=Count("pk", filter=Q(cost=None)))
    return Figures(
        school=school,
        until=until,
        since=since,
        by_kind=kinds,
        # One in the workshop that somebody has is here for repair.
        lent_in_repair=Horn.objects.at(school)
        .filter(where__in=(Horn.Where.REPAIR, Horn.Where.AWAY))
        .exclude(holder_name="")
        .count(),
        condition=condition(school, until, 1 if brief else YEARS, now),
        months=loans_by_month(school, months, until),
        idle=idle(school, until),
        by_fault=cost_by_fault(costing, faults_of(done)) if costing else [],
        by_age=cost_by_age(costing),
        spent=cents(paid_for["sum"]),
        jobs_with_cost=paid_for["jobs"],
        jobs_without_cost=paid_for["without"],
        brief=brief,
    )


def start_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=timezone.get_current_timezone())


def last_months(until: date, number: int) -> list[date]:
    """The first days of so many months, the one of `until` being the last."""
    first = until.year * 12 + until.month - number
    return [date(month // 12, month % 12 + 1, 1) for month in range(first, first + number)]


class Alike(NamedTuple):
    """So many horns that the school keeps are alike in all these."""

    build: str
    stand: str
    where: str
    may_be_lent: bool
    grade: int | None
    horns: int


def _now(school: School) -> list[Alike]:
    asked = Horn.objects.at(school).kept().order_by().values_list("build", "stands_in", "where", "may_be_lent", "grade")
    return [Alike(*one) for one in asked.annotate(Count("pk"))]


def by_kind(now: Iterable[Alike]) -> list[KindFigures]:
    """Horns kept, by build and stand, the most numerous first."""
    by_kind: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    ready: Counter[tuple[str, str]] = Counter()
    for build, stand, where, may_be_lent, _, horns in now:
        by_kind[build, stand][where] += horns
        ready[build, stand] += horns if may_be_lent else 0
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


def condition(school: School, until: date, years: int = YEARS, now: Sequence[Alike] | None = None) -> list[GradesOn]:
    """The grades on the last day of each year before, of the school's own where it has said when that ends, and on
    `until`; oldest first. A query a day that is over, back to the first on which no horn had come yet."""
    if now is None:
        now = _now(school)
    ends, told, any_yet = school.year_ends or date(until.year, 12, 31), list[GradesOn](), True
    for day in (until, *years_behind(ends, until, years - 1)):
        horns = (_graded(school, day) if day < timezone.localdate() else _grades(now)) if any_yet else {}
        any_yet = bool(horns)
        first, second, third, fourth = (horns.get(grade, 0) for grade in Horn.Grade)
        told.append(GradesOn(day, (first, second, third, fourth), horns.get(None, 0)))
    return told[::-1]


# Instead of the grade of a horn that is no longer kept.
GONE = 0


def _grades(now: Iterable[Alike]) -> Counter[int | None]:
    grades: Counter[int | None] = Counter()
    for one in now:
        grades[one.grade] += one.horns
    return grades


def _graded(school: School, day: date) -> dict[int | None, int]:
    """Of each grade that horns had on a day, of those never checked as None, and of those gone how many there are."""
    came = Horn.objects.at(school).ever_had().filter(Q(created__lt=_end(day)) | Q(acquired_on__lte=day))
    looked = ConditionCheck.objects.filter(horn=OuterRef("pk"), at__lt=_end(day)).order_by("-at", "-pk")
    then = Case(
        When(withdrawn_on__lte=day, then=GONE),
        # What is kept on the horn is of its newest check.
        When(Q(checked_on=None) | Q(checked_on__lte=day), then="grade"),
        default=Subquery(looked.values("grade")[:1]),
        output_field=IntegerField(),
    )
    return dict(came.order_by().values_list(then).annotate(Count("pk")))


def _end(day: date) -> datetime:
    return start_of(day + timedelta(days=1))


def loans_by_month(school: School, months: Sequence[date], until: date) -> list[Month]:
    """Loans issued, ended and out, month by month: of those out now it is reckoned back. Five queries."""
    loans = Loan.objects.at(school).order_by()
    out = loans.open().count()
    issued = dict(loans.filter(issued_on__gte=months[0]).values_list("issued_on").annotate(Count("pk")))
    ended = dict(loans.filter(returned_on__gte=months[0]).values_list("returned_on").annotate(Count("pk")))
    # Few ended otherwise than by coming back: each sort of all years is found along its own index.
    lost = dict(loans.exclude(lost_words="").values_list("returned_on").annotate(Count("pk")))
    follow = loans.filter(in_place_of__isnull=False, in_place_of__lost_words="")
    swapped = dict(follow.values_list("in_place_of__returned_on").annotate(Count("pk")))
    told = []
    for first in months:
        end = min(until, _next_month(first) - timedelta(days=1))
        here, gone, other = (_within(rows, first, end) for rows in (ended, lost, swapped))
        told.append(
            Month(
                first=first,
                issued=_within(issued, first, end),
                returned=here - gone - other,
                swapped=other,
                lost=gone,
                out=out - _after(issued, end) + _after(ended, end),
            )
        )
    return told


def _within(by_day: Mapping[date | None, int], first: date, last: date) -> int:
    return sum(many for on, many in by_day.items() if on is not None and first <= on <= last)


def _after(by_day: Mapping[date | None, int], last: date) -> int:
    return sum(many for on, many in by_day.items() if on is not None and on > last)


def _next_month(first: date) -> date:
    return date(first.year + first.month // 12, first.month % 12 + 1, 1)


def idle(school: School, until: date, most: int = IDLE_SHOWN) -> list[Idle]:
    """The horns in their places that nobody has had for longest: of one day first those lent before, by number, then
    the others as they were entered. Two queries."""
    here = Horn.objects.at(school).filter(where=Horn.Where.IN_PLACE)
    lent = here.filter(back_on__lte=until).order_by("back_on", "number_stem", "number_tail", "pk")
    never = here.filter(back_on=None, created__lt=_end(until)).order_by("created", "pk")
    since = [(one.back_on or timezone.localdate(one.created), one) for one in (*lent[:most], *never[:most])]
    since.sort(key=itemgetter(0))
    return [Idle(horn, day, horn.back_on is not None, (until - day).days) for day, horn in since[:most]]
