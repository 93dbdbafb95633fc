"""The piles of the bench: parts to order, care that is due."""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet
from django.utils.translation import gettext as _s

from fleet.desk.queries.piles import ASKED_FOR, Day, MadeOf, Pile, Task, Waits, made_of
from fleet.people.models import School
from fleet.workshop.models import Part
from fleet.workshop.queries.care import first_due


def _short(school: School, today: date) -> QuerySet[Part]:
    return Part.objects.at(school).to_order()


@made_of(_short, counted=True)
def to_order(day: Day, found: MadeOf) -> Pile:
    tasks = [
        Task(
            _s("Order %(short)s × %(part)s") % {"short": part.short, "part": part.name},
            day.seat.here("workshop:part-edit", part.pk),
            _s("%(on_hand)s left") % {"on_hand": part.on_hand},
        )
        for part in found.rows
    ]
    return Pile(_s("Parts to order"), tasks, day.seat.here("workshop:parts"), total=found.total)


@Waits
def care(day: Day, found: MadeOf) -> Pile:
    """Oiling, cleaning and service that the school does itself, for the first horns that want it. Two queries."""
    tasks = [
        Task(f"{due.horn}: {due.kind.label}", day.seat.here("workshop:horn-care", due.horn.pk), due.why)
        for due in first_due(day.seat.school, day.today, ASKED_FOR)
    ]
    return Pile(_s("Care that is due"), tasks, day.seat.here("workshop:care"))
