"""What needs doing now: the piles of each role in the order that serves it, and a new school's first steps."""

from __future__ import annotations

from collections.abc import Callable

from fleet.desk.queries.piles import (
    Day,
    Pile,
    Task,
    asked,
    bench,
    counts,
    due_soon,
    overdue,
    reported,
    test_note_owed,
    to_approve,
    to_decide,
    to_hand_out,
    unchecked,
    undelivered,
    unidentified,
)
from fleet.ground.access import HEADS, Role
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn

PILES: dict[Role, tuple[Callable[[Day], Pile], ...]] = {
    Role.HEAD: (
        overdue,
        reported,
        asked,
        to_hand_out,
        undelivered,
        due_soon,
        unidentified,
        test_note_owed,
        to_decide,
        to_approve,
        counts,
        unchecked,
        bench,
    ),
    Role.TEACHER: (
        overdue,
        reported,
        asked,
        to_hand_out,
        undelivered,
        unidentified,
        test_note_owed,
        due_soon,
        counts,
        unchecked,
    ),
    Role.TECHNICIAN: (reported, bench, test_note_owed, counts, unchecked, unidentified),
}
PILES[Role.SERVICE] = PILES[Role.HEAD]


def piles(day: Day) -> list[Pile]:
    """This role's piles that have something in them, in the order that serves it. One query a pile."""
    made = (pile(day) for pile in PILES[day.seat.role])
    return [pile for pile in made if pile.tasks]


def is_new_school(seat: Seat) -> bool:
    return not Horn.objects.at(seat.school).exists()


def first_steps(day: Day) -> list[Task]:
    """What a school with an empty register does first."""
    steps = []
    if day.seat.role in HEADS:
        steps.append(Task("Say where horns are kept", day.to("register:places"), "rooms and shelves"))
        steps.append(Task("Add the staff", day.to("people:staff-new"), "teachers and the technician"))
    steps.append(Task("Identify the first horn", day.to("identify:walk"), "four checks, then put it on record"))
    return steps
