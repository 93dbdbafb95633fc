"""A technician's visit: of the jobs that can be done, the set that serves the school most in the minutes there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from math import gcd

from fleet.workshop.bench import Turn, Waiting
from fleet.workshop.faults import WEIGHT
from fleet.workshop.models import RepairJob

LONGEST = 24 * 60


@dataclass(frozen=True, slots=True)
class Candidate:
    """A job as the choice sees it: whole minutes, and what doing it is worth, the weightiest figure first.

    Worths are compared figure by figure: no number of later ones outweighs an earlier one.
    """

    minutes: int
    worth: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Visit:
    """The jobs of today in the order of the bench, and why the others are not among them."""

    minutes: int
    chosen: tuple[Turn, ...]
    left_out: tuple[tuple[Turn, str], ...]

    @property
    def planned(self) -> int:
        """Minutes the chosen jobs take."""
        return sum(turn.minutes or 0 for turn in self.chosen)

    @property
    def frees(self) -> int:
        """Horns that may be lent again once these jobs are done and the horns checked."""
        return sum(_frees(turn) for turn in self.chosen)


def best_set(candidates: Sequence[Candidate], minutes: int) -> tuple[int, ...]:
    """Places of the candidates that are worth most together in at most so many minutes.

    Exact: the 0/1 knapsack, solved by dynamic programming over minutes, its values compared figure by figure. Among
    sets worth the same the one that takes fewest minutes, then the one with the earliest candidates. Raises
    ValueError for negative minutes or figures, and for worths of different lengths.
    """
    if minutes < 0 or any(one.minutes < 0 or min(one.worth, default=0) < 0 for one in candidates):
        raise ValueError("Minutes and worths cannot be negative.")
    fitting = [place for place, one in enumerate(candidates) if one.minutes <= minutes]
    # Work is timed in fives and tens: counted in their common measure, the table is as much smaller.
    unit = reduce(gcd, (candidates[place].minutes for place in fitting), 0) or 1
    room = minutes // unit
    values = _as_numbers([candidates[place].worth for place in fitting])
    best = [0] * (room + 1)
    takes: list[bytearray] = []
    # From the last to the first, and taking where it is no worse, so that equal sets prefer what stands first.
    for place, value in zip(reversed(fitting), reversed(values), strict=True):
        size = candidates[place].minutes // unit
        take = bytearray(room + 1)
        for at in range(room, size - 1, -1):
            if best[at - size] + value >= best[at]:
                best[at] = best[at - size] + value
                take[at] = 1
        takes.append(take)
    at = best.index(best[room])
    chosen = []
    for place, take in zip(fitting, reversed(takes), strict=True):
        if take[at]:
            chosen.append(place)
            at -= candidates[place].minutes // unit
    return tuple(chosen)


def plan(turns: Sequence[Turn], minutes: int) -> Visit:
    """Today's set out of the bench's order. No query."""
    reasons = [_why_not(turn, minutes) for turn in turns]
    possible = [turn for turn, reason in zip(turns, reasons, strict=True) if not reason]
    places = best_set([Candidate(turn.minutes or 0, worth_of(turn)) for turn in possible], minutes)
    chosen = tuple(possible[place] for place in places)
    ids = {turn.job_id for turn in chosen}
    left_out = tuple(
        (turn, reason or "the minutes serve more in other jobs")
        for turn, reason in zip(turns, reasons, strict=True)
        if turn.job_id not in ids
    )
    return Visit(minutes, chosen, left_out)


def worth_of(turn: Turn) -> tuple[int, int, int, int]:
    """Horns freed to be played; pupils or families who wait for it; loans about to end; the weight of the fault."""
    return (
        int(_frees(turn)),
        int(turn.waiting in {Waiting.HANDED_IN, Waiting.FAMILY}),
        int(turn.waiting is Waiting.LOAN_ENDS_SOON),
        WEIGHT[turn.severity] + 1,
    )


def _frees(turn: Turn) -> bool:
    return WEIGHT[turn.severity] >= WEIGHT["r"]


def _why_not(turn: Turn, minutes: int) -> str:
    if turn.out:
        return "a family has the horn: ask for it first"
    if turn.state == RepairJob.State.AWAY:
        return "at the repairer's"
    if turn.missing:
        return f"no {turn.missing[0]} left"
    if turn.held_up:
        return "waiting for parts"
    if turn.minutes is None or turn.more:
        return "nobody knows how long it takes: give it minutes, and it can be planned"
    if turn.minutes > minutes:
        return f"takes longer than the visit: {turn.minutes} min"
    return ""


def _as_numbers(worths: Sequence[tuple[int, ...]]) -> list[int]:
    """Worths as whole numbers that add and compare as the figures do: each figure has room for the sum of all."""
    if len({len(worth) for worth in worths}) > 1:
        raise ValueError("Worths must have the same number of figures.")
    bases = [1 + sum(figures) for figures in zip(*worths, strict=True)]
    numbers = []
    for worth in worths:
        number = 0
        for base, figure in zip(bases, worth, strict=True):
            number = number * base + figure
        numbers.append(number)
    return numbers
