"""What needs doing now: the piles of each role in the order that serves it, and a new school's first steps."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from fleet.desk.queries.next_step import PRESSING
from fleet.desk.queries.piles import (
    Day,
    Pile,
    Task,
    care,
    closing,
    counts,
    due_soon,
    objections,
    of_owing,
    sheets_out,
    to_approve,
    to_hand_out,
    to_order,
    undelivered,
    visit,
)
from fleet.ground.access import HEADS, Role
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn

# What waits, most pressing first: a code is a sort of thing owed, told by the one reader.
Waits = str | Callable[[Day], Pile]
TEACHING: tuple[Waits, ...] = (
    *PRESSING,
    to_hand_out,
    sheets_out,
    "unsigned",
    undelivered,
    "not-found",
    "recall",
    "mended",
    "mouthpiece",
    "accessory",
    "charge",
    due_soon,
    "unidentified",
    "test-note",
)
WAITS: dict[Role, tuple[Waits, ...]] = {
    Role.HEAD: (closing, objections, *TEACHING, "to-decide", to_approve, counts, "check", "away-late", "job"),
    Role.TEACHER: (*TEACHING, counts, "check"),
    Role.TECHNICIAN: (
        "report",
        "away-late",
        visit,
        "job",
        "mended",
        to_order,
        care,
        "test-note",
        "mouthpiece",
        counts,
        "check",
        "unidentified",
    ),
}
WAITS[Role.SERVICE] = WAITS[Role.HEAD]


@lru_cache(maxsize=8)
def _piles_of(role: Role) -> tuple[Callable[[Day], Pile], ...]:
    return tuple(of_owing(one) if isinstance(one, str) else one for one in WAITS[role])


def piles(day: Day) -> list[Pile]:
    """This role's piles that have something in them, in the order that serves it. One query a pile, a few for
    care."""
    made = [pile for pile in (pile(day) for pile in _piles_of(day.seat.role)) if pile.tasks]
    pressing = iter(sorted((pile for pile in made if pile.code in PRESSING), key=lambda pile: not pile.tasks[0].late))
    return [next(pressing) if pile.code in PRESSING else pile for pile in made]


def is_new_school(seat: Seat) -> bool:
    return not Horn.objects.at(seat.school).exists()


def first_steps(day: Day) -> list[Task]:
    """What a school with an empty register does first."""
    steps = []
    if day.seat.role in HEADS:
        steps.append(Task("Say where horns are kept", day.seat.here("register:places"), "rooms and shelves"))
        steps.append(Task("Add the staff", day.seat.here("people:staff-new"), "teachers and the technician"))
    steps.append(Task("Identify the first horn", day.seat.here("identify:walk"), "four checks, then put it on record"))
    return steps
