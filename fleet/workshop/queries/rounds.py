"""The benches of several schools of one technician, as one list in one order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from fleet.people.models import School
from fleet.register.queries.horns_now import owings
from fleet.workshop.queries.bench import Turn
from fleet.workshop.queries.in_turn import turns, with_jobs

SHOWN = 50


@dataclass(frozen=True, slots=True)
class Stop:
    """A school on the round: its bench in its order, and how many of each wait beside it."""

    school: School
    turns: tuple[Turn, ...]
    to_check: int
    late_outside: int

    @property
    def here(self) -> tuple[Turn, ...]:
        """What can be worked on there today."""
        return tuple(turn for turn in self.turns if turn.can_begin)

    @property
    def minutes(self) -> int:
        return sum(turn.minutes or 0 for turn in self.here)

    @property
    def order(self) -> tuple[Any, ...]:
        """The school whose first job presses most is first; one without a job is last, by its name."""
        return (not self.turns, *(self.turns[0].order if self.turns else ()), self.school.name)


def round_of(schools: Sequence[School], now: datetime) -> dict[str, Any]:
    """`stops`, the schools in the order in which they press; `turns`, the first jobs of all of them in one order, each
    with its school; `more`, how many jobs that leaves out. Nine queries a school at most."""
    stops = sorted(
        (_stop(school, timezone.localdate(now, school.zone)) for school in schools), key=lambda stop: stop.order
    )
    all_turns = sorted((turn for stop in stops for turn in stop.turns), key=lambda turn: turn.order)
    at = {turn.job_id: stop.school for stop in stops for turn in stop.turns}
    shown = with_jobs(all_turns[:SHOWN])
    return {
        "stops": stops,
        "turns": [(turn, at[turn.job_id]) for turn in shown],
        "more": max(0, len(all_turns) - SHOWN),
    }


def _stop(school: School, today: date) -> Stop:
    def many(code: str) -> int:
        return owings()[code].rows(school, today).count()

    return Stop(school, tuple(turns(school, today)), many("mended"), many("away-late"))
