"""A technician's day at a school beside the jobs: what to check, whom to ask outside, what to order, which care."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import or_

from django.db.models import Exists, OuterRef, Q

from fleet.ground.wording import in_reading_order
from fleet.people.models import School
from fleet.register.models import HornQuerySet, Place
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed
from fleet.workshop.models import Part
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import Due, kinds_at, wanting


@dataclass(frozen=True, slots=True)
class CareAt:
    """What the horns of one place (None: of no place) want: of each kind their numbers."""

    place: Place | None
    wanted: tuple[tuple[Kind, list[str]], ...]


@dataclass(frozen=True, slots=True)
class BenchDay:
    to_check: tuple[Owed, ...]
    late_outside: tuple[Owed, ...]
    to_order: tuple[Part, ...]
    care: tuple[CareAt, ...]
    more_care: bool


# Of the places whose horns want care, those that are shown.
PLACES = 8
FEW = 50


def bench_day(school: School, today: date) -> BenchDay:
    """At most as many queries, whatever there is."""
    care = _care(school, today)
    return BenchDay(
        _owed("mended", school, today),
        _owed("away-late", school, today),
        tuple(Part.objects.at(school).to_order()),
        care[:PLACES],
        len(care) > PLACES,
    )


def _care(school: School, today: date) -> tuple[CareAt, ...]:
    """The first places where something is due, one more than are shown; horns that have no place come last."""
    due = {kind: wanting(school, kind, today) for kind in kinds_at(school)}
    there = map(_is_at, due.values())
    places = Place.objects.filter(school=school).filter(reduce(or_, there)).order_by("sorted_by", "pk")
    found: dict[int, tuple[Place | None, dict[Kind, list[str]]]]
    found = {place.pk: (place, {}) for place in places[: PLACES + 1]}
    if len(found) <= PLACES:
        found[0] = (None, {})
    for kind, horns in due.items():
        of_these = horns.filter(Q(place__in=found) | Q(place=None) if 0 in found else Q(place__in=found))
        for place, number in of_these.values_list("place", "number"):
            found[place or 0][1].setdefault(kind, []).append(number)
    return tuple(CareAt(place, tuple(wanted.items())) for place, wanted in found.values() if wanted)


def _is_at(horns: HornQuerySet) -> Q:
    """Whether one of these horns belongs at the place. A few are looked up by themselves, since otherwise all places
    would be gone through where hardly anything is due."""
    few = list(horns.values_list("place", flat=True)[: FEW + 1])
    return Q(pk__in=few) if len(few) <= FEW else Q(Exists(horns.order_by().filter(place=OuterRef("pk"))))


def by_place(some: Iterable[Due]) -> list[tuple[Place | None, list[Due]]]:
    """What is due under the places where the horns are kept; those that have none last."""
    found: dict[int, tuple[Place | None, list[Due]]] = {}
    for one in some:
        found.setdefault(one.horn.place_id or 0, (one.horn.place, []))[1].append(one)
    return sorted(found.values(), key=lambda one: (one[0] is None, in_reading_order(str(one[0]))))


def _owed(code: str, school: School, today: date) -> tuple[Owed, ...]:
    owing = owings()[code]
    return tuple(owing.said(row, today) for row in owing.rows(school, today))
