"""A technician's day at a school beside the jobs: what to check, whom to ask outside, what to order, which care."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleet.ground.wording import in_reading_order
from fleet.people.models import School
from fleet.register.models import Horn, Place
from fleet.register.queries.horns_now import owings
from fleet.register.queries.owing import Owed
from fleet.workshop.models import Part
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import Due, care_due


@dataclass(frozen=True, slots=True)
class CareAt:
    """What the horns of one place (None: of no place) want."""

    place: Place | None
    wanted: tuple[tuple[Kind, tuple[Horn, ...]], ...]


@dataclass(frozen=True, slots=True)
class BenchDay:
    to_check: tuple[Owed, ...]
    late_outside: tuple[Owed, ...]
    to_order: tuple[Part, ...]
    care: tuple[CareAt, ...]


def bench_day(school: School, today: date) -> BenchDay:
    """Four queries, whatever there is."""
    return BenchDay(
        _owed("mended", school, today),
        _owed("away-late", school, today),
        tuple(Part.objects.at(school).to_order()),
        tuple(
            CareAt(place, tuple((kind, horns) for kind in Kind if (horns := _of_kind(kind, some))))
            for place, some in by_place(one for due in care_due(school, today).values() for one in due)
        ),
    )


def _of_kind(kind: Kind, some: Iterable[Due]) -> tuple[Horn, ...]:
    return tuple(one.horn for one in some if one.kind == kind)


def by_place(some: Iterable[Due]) -> list[tuple[Place | None, list[Due]]]:
    """What is due under the places where the horns are kept; those that have none last."""
    found: dict[int, tuple[Place | None, list[Due]]] = {}
    for one in some:
        found.setdefault(one.horn.place_id or 0, (one.horn.place, []))[1].append(one)
    return sorted(found.values(), key=lambda one: (one[0] is None, in_reading_order(str(one[0]))))


def _owed(code: str, school: School, today: date) -> tuple[Owed, ...]:
    owing = owings()[code]
    return tuple(owing.said(row, today) for row in owing.rows(Horn.objects.at(school), school, today))
