"""Which care is due, each kind after the days that Settings say, and how it stands with one horn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from django.db.models import (
    BooleanField,
    Count,
    DateField,
    Exists,
    ExpressionWrapper,
    F,
    Max,
    OuterRef,
    Q,
    Subquery,
    Sum,
    Value,
)
from django.db.models.functions import Coalesce, Greatest, NullIf
from django.db.models.lookups import LessThanOrEqual
from django.utils.formats import date_format
from django.utils.translation import gettext as _s

from fleet.ground.due import DaysBetween
from fleet.people.models import School, User
from fleet.register.models import Horn, HornQuerySet
from fleet.register.models.cared import CareDay
from fleet.register.queries.at_once import MOST_KEPT, AtOnce
from fleet.workshop.models import Care
from fleet.workshop.models.care import BY_USE, Kind
from fleet.workshop.models.fitted import fitted, without

# Of loans, in days.
MONTH = 30
# Where the horn keeps the day of each, and for how many days children have played it since.
LAST = {
    Kind.OIL: "oiled_on",
    Kind.CLEAN: "cleaned_on",
    Kind.SERVICE: "serviced_on",
    Kind.EXERCISE: "exercised_on",
}
PLAYED = {Kind.CLEAN: "played_since_cleaned", Kind.SERVICE: "played_since_serviced"}


@dataclass(frozen=True, slots=True)
class Due:
    horn: Horn
    kind: Kind
    last: date | None
    # Its days are not over: children have played it so long.
    by_use: bool = False

    @property
    def why(self) -> str:
        if self.last is None:
            return _s("no record yet")
        named = {"day": date_format(self.last, "SHORT_DATE_FORMAT")}
        last = (_s("played last on %(day)s") if self.kind == Kind.EXERCISE else _s("last on %(day)s")) % named
        return _and_played(last) if self.by_use else last


def _and_played(last: str) -> str:
    return _s("%(last)s, and played by children for months since") % {"last": last}


def wanting(school: School, kind: Kind, today: date) -> HornQuerySet:
    """Horns that could have this care here today and to which it is due, the longest overdue first. They are read along
    the index of that care's day, from those that never had it on."""
    since, use = _since(school, kind, today), months_between(school, kind) * MONTH
    last, due = CareDay("where", LAST[kind]), Q(LessThanOrEqual(CareDay("where", LAST[kind]), since))
    if use:
        # In fewer days than that nobody can have played it so long.
        since = max(since, today - timedelta(days=use))
        # Of those that are here only what was brought to be mended has a loan that goes on: few, looked for apart.
        brought = Horn.objects.at(school).filter(_played_to(kind, today, use), where=Horn.Where.REPAIR)
        due |= Q(**{f"{PLAYED[kind]}__gte": use}) | Q(pk__in=brought.values("pk"))
    horns = Horn.objects.at(school).filter(LessThanOrEqual(last, since), due)
    if kind == Kind.OIL:
        horns = horns.exclude(build__in=["", *without("valves")])
    if kind == Kind.EXERCISE:
        horns = horns.filter(where=Horn.Where.IN_PLACE).exclude(grade=Horn.Grade.MUST_NOT_BE_PLAYED)
    return horns.order_by(last, "number_stem", "number_tail", "pk")


def is_due(school: School, kind: Kind, today: date) -> Q:
    """Whether a horn of the school wants this care, wherever it is: its days are over, or its months in children's
    hands."""
    due = Q(**{LAST[kind]: None}) | Q(**{f"{LAST[kind]}__lte": _since(school, kind, today)})
    if use := months_between(school, kind) * MONTH:
        due |= Q(**{f"{PLAYED[kind]}__gte": use}) | _played_to(kind, today, use)
    return due


def _since(school: School, kind: Kind, today: date) -> date:
    return today - timedelta(days=days_between(school, kind))


def _played_to(kind: Kind, today: date, use: int) -> Q:
    """Whether children have played it for so many days since this care, its running loan among them."""
    since = Coalesce(LAST[kind], Value(date.min), output_field=DateField())
    days = DaysBetween(Greatest("loans__issued_on", since), Value(today, output_field=DateField()))
    out = Horn.objects.filter(pk=OuterRef("pk"), loans__isnull=False, loans__returned_on=None)
    return Q(Exists(out.annotate(played=F(PLAYED[kind]) + Greatest(days, 0)).filter(played__gte=use)))


def kept_of_care() -> dict[str, Any]:
    """What is kept on a horn of its care (see `register.models.cared`)."""
    played = {column: _played_of_ended(kind) for kind, column in PLAYED.items()}
    return {column: _last_of(kind) for kind, column in LAST.items()} | played


def _last_of(kind: Kind) -> Any:
    """The day on which a horn last had this care; exercise is also to be played by a child."""
    noted = Subquery(Care.objects.filter(horn=OuterRef("pk"), kind=kind).order_by("-on").values("on")[:1])
    if kind != Kind.EXERCISE:
        return noted
    ended = Horn.objects.filter(pk=OuterRef("pk")).values("pk").annotate(on=Max("loans__returned_on")).values("on")
    later = Greatest(*(Coalesce(one, Value(date.min), output_field=DateField()) for one in (noted, Subquery(ended))))
    return NullIf(later, Value(date.min, output_field=DateField()))


def _played_of_ended(kind: Kind) -> Any:
    """Days in children's hands since this care, by the horn's loans that have ended."""
    since = Coalesce(_last_of(kind), Value(date.min), output_field=DateField())
    days = Greatest(DaysBetween(Greatest("loans__issued_on", since), "loans__returned_on"), 0)
    lent = Horn.objects.filter(pk=OuterRef("pk"), loans__returned_on__isnull=False)
    return Coalesce(Subquery(lent.values("pk").annotate(days=Sum(days)).values("days")), 0)


def care_due(school: School, today: date, most: int | None = None) -> dict[Kind, list[Due]]:
    """What is due by kind of the horns that are here, the first `most` of each. A query for each kind."""
    found = {kind: wanting(school, kind, today).select_related("place")[:most] for kind in kinds_at(school)}
    return {kind: _dues(school, kind, today, horns) for kind, horns in found.items()}


def first_due(school: School, today: date, most: int) -> list[Due]:
    """The first few horns in the house that want care, however many there are. Two queries."""
    [(_, horns)] = _asked(school.settled, today, most)([school.pk])
    return [due for kind in kinds_at(school) for due in _dues(school, kind, today, horns[kind])][:most]


@lru_cache(maxsize=MOST_KEPT)
def _asked(settled: tuple[Any, ...], today: date, most: int) -> AtOnce[School]:
    """What is asked to know which horns of a school that settled so want care on that day."""
    school = School.that_settled(settled)
    wanted = {str(kind): wanting(school, kind, today).select_related("place")[:most] for kind in kinds_at(school)}
    return AtOnce(School.objects.all(), wanted)


def _dues(school: School, kind: Kind, today: date, horns: Iterable[Horn]) -> list[Due]:
    last = ((horn, getattr(horn, LAST[kind])) for horn in horns)
    return [Due(horn, kind, on, _in_its_days(school, kind, on, today)) for horn, on in last]


def _in_its_days(school: School, kind: Kind, last: date | None, today: date) -> bool:
    """Whether its days are not over: what is due all the same, is so by use."""
    return last is not None and last > today - timedelta(days=days_between(school, kind))


@dataclass(frozen=True, slots=True)
class CareNow:
    """How one kind of care stands with a horn: `due_on` is None where nothing was ever noted or it is due `by_use`,
    `by_family` where the family who has the horn does it."""

    kind: Kind
    days: int
    months: int
    last: Care | None
    due_on: date | None
    is_due: bool
    by_use: bool
    by_family: bool

    @property
    def told(self) -> str:
        """When it was last done and by whom."""
        if self.last is None:
            return _s("no record yet")
        on = date_format(self.last.on, "SHORT_DATE_FORMAT")
        last = _s("last on %(day)s, %(somebody)s") % {"day": on, "somebody": self.last.by}
        return _and_played(last) if self.by_use else last


def care_of(horn: Horn, today: date) -> tuple[list[CareNow], list[Care]]:
    """How each kind of care stands with a horn, and all the care it had, newest first. Two queries."""
    had = list(horn.care.select_related("by").order_by("-on", "-pk"))
    kinds = [kind for kind in kinds_at(horn.school) if needs(kind, horn)]
    asked = {f"{kind}_due": ExpressionWrapper(is_due(horn.school, kind, today), BooleanField()) for kind in kinds}
    said = Horn.objects.filter(pk=horn.pk).annotate(**asked).values(*asked).get()
    stands = []
    for kind in kinds:
        days, on = days_between(horn.school, kind), getattr(horn, LAST[kind])
        last = next((care for care in had if care.kind == kind), None)
        by_family = kind != Kind.SERVICE and horn.whereabouts.is_with_family
        due = bool(said[f"{kind}_due"]) and done_here(kind, horn)
        by_use = due and _in_its_days(horn.school, kind, on, today)
        due_on = on + timedelta(days=days) if on and not by_use else None
        stands.append(CareNow(kind, days, months_between(horn.school, kind), last, due_on, due, by_use, by_family))
    return stands, had


def done_here(kind: Kind, horn: Horn) -> bool:
    """Whether the school does it: a horn that a family has is oiled and cleaned by them, and nobody can oil what is at
    the repairer's; the service of either stays the school's. What must not be played is not exercised."""
    at = horn.whereabouts
    if kind == Kind.EXERCISE:
        return at.code == Horn.Where.IN_PLACE and horn.grade != Horn.Grade.MUST_NOT_BE_PLAYED
    return at.code in Horn.HERE or (kind == Kind.SERVICE and at.code in {"out", "away"})


def needs(kind: Kind, horn: Horn) -> bool:
    """Whether this kind of care is anything to this horn: without valves there is nothing to oil. A horn that nobody
    has identified is not proposed for it: who knows whether it has such valves?"""
    has = fitted(horn)
    return kind != Kind.OIL or has is None or "valves" in has


def noted_on(school: School, day: date, by: User) -> dict[Kind, int]:
    """How many horns this person noted as cared for on that day, by kind. One query."""
    noted = Care.objects.filter(horn__school=school, on=day, by=by).order_by("kind")
    return {Kind(kind): many for kind, many in noted.values_list("kind").annotate(Count("pk"))}


def kinds_at(school: School) -> list[Kind]:
    """Those that a school asks for; exercise may be none of its."""
    return [kind for kind in Kind if days_between(school, kind)]


def days_between(school: School, kind: Kind) -> int:
    return int(getattr(school, f"{kind.value}_days"))


def months_between(school: School, kind: Kind) -> int:
    """After how many months in children's hands it is due before its days are over; 0 for never."""
    return int(getattr(school, f"{kind.value}_months")) if kind in BY_USE else 0
