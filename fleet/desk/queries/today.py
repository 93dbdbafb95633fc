"""What needs doing now: the piles of each role in the order that serves it, and a new school's first steps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from django.db.models import Exists
from django.utils.translation import gettext as _s

from fleet.desk.queries.bench_piles import care, to_order
from fleet.desk.queries.heads_piles import closing, objections, refusing, school_year, to_approve
from fleet.desk.queries.next_step import BEFORE_THE_LOAN, PRESSING
from fleet.desk.queries.piles import (
    Day,
    MadeOf,
    Pile,
    Waits,
    counts,
    due_soon,
    of_owing,
    sheets_out,
    to_hand_out,
    undelivered,
    waited_for,
)
from fleet.ground.access import HEADS, Role
from fleet.ground.access import TEACHING as TEACHERS
from fleet.ground.paging import HowMany
from fleet.lending.models import Loan
from fleet.people.models import Post, Pupil, School
from fleet.register.models import Horn, HornQuerySet, Place
from fleet.register.queries.at_once import MOST_KEPT, AtOnce

# What waits, most pressing first: a code is a sort of thing owed, told by the one reader.
TEACHING: tuple[Waits | str, ...] = (
    *PRESSING,
    to_hand_out,
    sheets_out,
    "unsigned",
    undelivered,
    "not-found",
    "recall",
    "mended",
    "found",
    "fetch",
    "mouthpiece",
    waited_for,
    "reserved",
    "accessory",
    "charge",
    due_soon,
    "unidentified",
    "test-note",
)
WAITS: dict[Role, tuple[Waits | str, ...]] = {
    Role.HEAD: (
        closing,
        objections,
        refusing,
        school_year,
        *BEFORE_THE_LOAN,
        *TEACHING[len(PRESSING) :],
        "to-decide",
        to_approve,
        counts,
        "check",
        "job",
    ),
    Role.TEACHER: (*TEACHING, counts, "check"),
    Role.TECHNICIAN: (
        "report",
        "away-late",
        "job",
        "mended",
        "found",
        "fetch",
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
# Today shows so many piles at once; of more these stand open, and all that is late.
MOST_OPEN = 6
FIRST_OPEN = 4


@lru_cache(maxsize=8)
def _waits_for(role: Role) -> tuple[Waits, ...]:
    return tuple(of_owing(one) if isinstance(one, str) else one for one in WAITS[role])


@lru_cache(maxsize=MOST_KEPT)
def _asked(role: Role, settled: tuple[Any, ...], today: date) -> AtOnce[Any]:
    """What this role's piles are made of at a school that settled so, on that day."""
    school, waits = School.that_settled(settled), _waits_for(role)
    rows = {str(n): one.rows(school, today) for n, one in enumerate(waits) if one.rows}
    asked: dict[str, Any] = {"has_lent": Exists(Loan.objects.at(school))}
    asked |= {f"many_{n}": HowMany(found) for n, found in rows.items() if waits[int(n)].counted}
    asked |= {f"told_{n}": one.asks(school, today) for n, one in enumerate(waits) if one.asks}
    return AtOnce(School.objects.annotate(**asked), {n: found[: waits[int(n)].most] for n, found in rows.items()})


def piles(day: Day) -> list[Pile]:
    """This role's piles that have something in them, in the order that serves it.

    One query says which may and with what they begin, one reads the rows of all. Two more are for care, two for who
    waits for a horn, and one for addresses at which letters were refused.
    """
    waits, school = _waits_for(day.seat.role), day.seat.school
    [(told, rows)] = _asked(day.seat.role, school.settled, day.today)([school.pk])
    day.has_lent = told.has_lent
    found = [
        MadeOf(rows.get(str(n), []), getattr(told, f"many_{n}", 0), getattr(told, f"told_{n}", None))
        for n in range(len(waits))
    ]
    made = [
        pile
        for one, of in zip(waits, found, strict=True)
        if (of.rows or not one.rows) and (pile := one.pile(day, of)).tasks
    ]
    presses = [pile for pile in made if pile.code in BEFORE_THE_LOAN]
    in_turn = iter(sorted(presses, key=lambda pile: not pile.tasks[0].late))
    return [next(in_turn) if pile in presses else pile for pile in made]


def in_sight(piles: list[Pile]) -> tuple[list[Pile], list[Pile]]:
    """The piles that stand open, which are the first few and what is late, and those to be opened by who looks."""
    if len(piles) <= MOST_OPEN:
        return piles, []
    opened = [pile for place, pile in enumerate(piles) if place < FIRST_OPEN or pile.late]
    return opened, [pile for pile in piles if pile not in opened]


@dataclass(frozen=True, slots=True)
class FirstStep:
    what: str
    address: str
    why: str
    done: bool


def first_steps(day: Day) -> list[FirstStep]:
    """What a school does first, each step ticked off once it is done; none once a horn was lent, or for a technician.

    One query a step, but for a school that lends, as `piles` found.
    """
    seat, school = day.seat, day.seat.school
    if seat.role not in TEACHERS or day.has_lent:
        return []
    here, horns = seat.here, Horn.objects.at(school)
    steps = [
        FirstStep(
            _s("Say where horns are kept"), here("register:places"), _s("rooms and shelves"), _any(Place, school)
        ),
        FirstStep(
            _s("Identify the first horn"), here("identify:walk"), _s("four checks, then on record"), _known(horns)
        ),
        FirstStep(_s("Add the pupils"), here("people:pupils"), _s("and who answers for them"), _any(Pupil, school)),
        FirstStep(_s("Issue the first horn"), here("loans:issue"), _s("with a signed sheet"), False),
    ]
    if seat.role in HEADS:
        several = Post.objects.filter(school=school)[1:].exists()
        steps[:0] = [
            FirstStep(
                _s("Bring in your list"),
                here("exchange:imports"),
                _s("the horns, pupils and loans you have"),
                horns.exists(),
            ),
            FirstStep(_s("Add the staff"), here("people:staff-new"), _s("teachers and the technician"), several),
        ]
    return steps


def _any(model: type[Place] | type[Pupil], school: School) -> bool:
    return model._default_manager.filter(school=school).exists()


def _known(horns: HornQuerySet) -> bool:
    return horns.identified().exists()
