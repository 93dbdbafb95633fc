"""Which care is due, each kind after the days that Settings say, and how it stands with one horn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Exists, F, OuterRef, Subquery
from django.utils.dateformat import format as dated

from fleet.ground.due import DueDay
from fleet.people.models import School, User
from fleet.register.models import Horn, HornQuerySet
from fleet.workshop.models import Care
from fleet.workshop.models.care import Kind
from fleet.workshop.models.fitted import fitted, without


@dataclass(frozen=True, slots=True)
class Due:
    horn: Horn
    kind: Kind
    last: date | None
    due_on: date

    @property
    def why(self) -> str:
        return "no record yet" if self.last is None else f"last on {dated(self.last, 'j M Y')}"


def wanting(school: School, kind: Kind, today: date) -> HornQuerySet:
    """Horns that could have this care here today and to which it is due, the longest overdue first, with the day of
    their `last`."""
    since = today - timedelta(days=days_between(school, kind))
    of_kind = Care.objects.filter(horn=OuterRef("pk"), kind=kind)
    horns = Horn.objects.at(school).filter(~Exists(of_kind.filter(on__gt=since)), where__in=Horn.HERE)
    if kind == Kind.OIL:
        horns = horns.exclude(build__in=["", *without("valves")])
    last = Subquery(of_kind.order_by("-on").values("on")[:1])
    return horns.annotate(last=last).order_by(F("last").asc(nulls_first=True), "number_stem", "number_tail", "pk")


def care_due(school: School, today: date, most: int | None = None) -> dict[Kind, list[Due]]:
    """What is due by kind of the horns that are here, the first `most` of each. A query for each kind."""
    found = {}
    for kind in Kind:
        days = days_between(school, kind)
        found[kind] = [
            Due(horn, kind, horn.last, due_after(horn.last, days, today).on)  # type: ignore[attr-defined]
            for horn in wanting(school, kind, today).select_related("place")[:most]
        ]
    return found


def first_due(school: School, today: date, most: int) -> list[Due]:
    """The first few horns in the house that want care, however many there are, by number. One query for each kind."""
    found: list[Due] = []
    for kind in Kind:
        since = today - timedelta(days=days_between(school, kind))
        horns = wanting(school, kind, today).order_by("number_stem", "number_tail", "pk")
        found += [Due(horn, kind, horn.last, since) for horn in horns[: most - len(found)]]  # type: ignore[attr-defined]
    return found


@dataclass(frozen=True, slots=True)
class CareNow:
    """How one kind of care stands with a horn: `due_on` is None where nothing was ever noted, `by_family` where the
    family who has the horn does it."""

    kind: Kind
    days: int
    last: Care | None
    due_on: date | None
    is_due: bool
    by_family: bool


def care_of(horn: Horn, today: date) -> tuple[list[CareNow], list[Care]]:
    """How each kind of care stands with a horn, and all the care it had, newest first. One query."""
    had = list(horn.care.select_related("by").order_by("-on", "-pk"))
    stands = []
    for kind in Kind:
        if not needs(kind, horn):
            continue
        days = days_between(horn.school, kind)
        last = next((care for care in had if care.kind == kind), None)
        due = due_after(last.on if last else None, days, today)
        by_family = kind != Kind.SERVICE and bool(horn.holder_name)
        is_due = done_here(kind, horn) and due.has_come
        stands.append(CareNow(kind, days, last, due.on if last else None, is_due, by_family))
    return stands, had


def due_after(last: date | None, days: int, today: date) -> DueDay:
    """When care is due again so many days after the last; long since where none was noted."""
    return DueDay(last + timedelta(days=days) if last else date.min, today)


def done_here(kind: Kind, horn: Horn) -> bool:
    """Whether the school does it: a horn that a family has is oiled and cleaned by them, and nobody can oil what is at
    the repairer's; the service of either stays the school's."""
    at = horn.whereabouts
    return at.is_here or (kind == Kind.SERVICE and at.code in {"out", "away"})


def needs(kind: Kind, horn: Horn) -> bool:
    """Whether this kind of care is anything to this horn: without valves there is nothing to oil. A horn that nobody
    has identified is not proposed for it: who knows whether it has such valves?"""
    has = fitted(horn)
    return kind != Kind.OIL or has is None or "valves" in has


def noted_on(school: School, day: date, by: User) -> dict[Kind, int]:
    """How many horns this person noted as cared for on that day, by kind. One query."""
    noted = Care.objects.filter(horn__school=school, on=day, by=by).order_by("kind")
    return {Kind(kind): many for kind, many in noted.values_list("kind").annotate(Count("pk"))}


def days_between(school: School, kind: Kind) -> int:
    return {Kind.OIL: school.oil_days, Kind.CLEAN: school.clean_days, Kind.SERVICE: school.service_days}[kind]
