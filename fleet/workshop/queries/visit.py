"""A technician's visit: of the jobs that can be done, the set that serves the school most in the minutes there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from math import gcd

from django.utils.translation import gettext as _s

from fleet.ground.wording import day
from fleet.workshop.models.faults import WEIGHT
from fleet.workshop.queries.bench import Turn, Waiting

LONGEST = 24 * 60
# How many states of the shelf the table may have for every minute; a school is short of one part or two.
MOST_STATES = 60


@dataclass(frozen=True, slots=True)
class JobOffered:
    """A job as the choice sees it: whole minutes, and what doing it is worth, the weightiest figure first.

    Worths are compared figure by figure: no number of later ones outweighs an earlier one. `parts` are those it wants
    from the stock, by key, with how many of each.
    """

    minutes: int
    worth: tuple[int, ...]
    parts: tuple[tuple[int, int], ...] = ()


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


def best_set(candidates: Sequence[JobOffered], minutes: int, stock: Mapping[int, int] | None = None) -> tuple[int, ...]:
    """Places of the candidates that are worth most together in at most so many minutes, with the parts there are.

    `stock` says how many pieces of each part lie there. Exact: the 0/1 knapsack, solved by dynamic programming over
    minutes and over the parts that are too few for all, its values compared figure by figure. Among sets worth the same
    the one that takes fewest minutes, then the one with the earliest candidates. Raises ValueError for negative minutes
    or figures, and for worths of different lengths.
    """
    if minutes < 0 or any(one.minutes < 0 or min(one.worth, default=0) < 0 for one in candidates):
        raise ValueError("Minutes and worths cannot be negative.")
    fitting, scarce = _within_reach(candidates, minutes, dict(stock or {}))
    # Work is timed in fives and tens: counted in their common measure, the table is as much smaller.
    unit = reduce(gcd, (candidates[place].minutes for place in fitting), 0) or 1
    room = minutes // unit
    shelf = _Shelf(scarce)
    values = _as_numbers([candidates[place].worth for place in fitting])
    # A row for every minute, with a column for every state of the shelf.
    width = shelf.states
    best = [0] * ((room + 1) * width)
    takes: list[bytearray] = []
    # From the last to the first, and taking where it is no worse, so that equal sets prefer what stands first.
    for place, value in zip(reversed(fitting), reversed(values), strict=True):
        back = (candidates[place].minutes // unit) * width + shelf.step(candidates[place].parts)
        columns = shelf.with_enough(candidates[place].parts)
        take = bytearray(len(best))
        for row in range(room * width, (candidates[place].minutes // unit) * width - 1, -width):
            for column in columns:
                at = row + column
                if best[at - back] + value >= best[at]:
                    best[at] = best[at - back] + value
                    take[at] = 1
        takes.append(take)
    full = width - 1
    at = next(row for row in range(full, len(best), width) if best[row] == best[-1])
    chosen = []
    for place, take in zip(fitting, reversed(takes), strict=True):
        if take[at]:
            chosen.append(place)
            at -= (candidates[place].minutes // unit) * width + shelf.step(candidates[place].parts)
    return tuple(chosen)


class _Shelf:
    """The states of the scarce parts as one number: how many of each lie there, the first part counting in ones."""

    def __init__(self, scarce: Mapping[int, int]) -> None:
        self.weight: dict[int, int] = {}
        self.states = 1
        self.sizes = dict(scarce)
        for part, count in scarce.items():
            self.weight[part] = self.states
            self.states *= count + 1

    def step(self, parts: Iterable[tuple[int, int]]) -> int:
        return sum(self.weight[part] * count for part, count in parts if part in self.weight)

    def with_enough(self, parts: Iterable[tuple[int, int]]) -> list[int]:
        """States in which these parts can be taken, the fullest first."""
        wanted = [(self.weight[part], self.sizes[part] + 1, count) for part, count in parts if part in self.weight]
        return [
            state
            for state in range(self.states - 1, -1, -1)
            if all(state // weight % size >= count for weight, size, count in wanted)
        ]


def _within_reach(
    candidates: Sequence[JobOffered], minutes: int, stock: dict[int, int]
) -> tuple[list[int], dict[int, int]]:
    """Places of those that could be done alone, and how many there are of the parts that are too few for all of them.

    Should so many parts be scarce that the table would not fit, those that are least scarce are given out in the
    candidates' own order; only then is the answer not proved to be the best.
    """
    fitting = [
        place
        for place, one in enumerate(candidates)
        if one.minutes <= minutes and all(stock.get(part, 0) >= count for part, count in one.parts)
    ]
    wanted: dict[int, int] = {}
    for place in fitting:
        for part, count in candidates[place].parts:
            wanted[part] = wanted.get(part, 0) + count
    scarce: dict[int, int] = {}
    states = 1
    for part in sorted((part for part in wanted if wanted[part] > stock[part]), key=lambda part: (stock[part], part)):
        if states * (stock[part] + 1) <= MOST_STATES:
            scarce[part] = stock[part]
            states *= stock[part] + 1
            continue
        left, keeping = stock[part], []
        for place in fitting:
            count = dict(candidates[place].parts).get(part, 0)
            if count <= left:
                left -= count
                keeping.append(place)
        fitting = keeping
    return fitting, scarce


def plan(turns: Sequence[Turn], minutes: int) -> Visit:
    """Today's set out of the bench's order, of turns that have their jobs. No query."""
    reasons = [_why_not(turn, minutes) for turn in turns]
    possible = [turn for turn, reason in zip(turns, reasons, strict=True) if not reason]
    stock = {part.pk: part.on_hand for turn in possible for part, _ in turn.wants}
    places = best_set(
        [
            JobOffered(turn.minutes or 0, worth_of(turn), tuple((part.pk, count) for part, count in turn.wants))
            for turn in possible
        ],
        minutes,
        stock,
    )
    chosen = tuple(possible[place] for place in places)
    for turn in chosen:
        for part, count in turn.wants:
            stock[part.pk] -= count
    ids = {turn.job_id for turn in chosen}
    left_out = tuple(
        (turn, reason or _outdone(turn, stock))
        for turn, reason in zip(turns, reasons, strict=True)
        if turn.job_id not in ids
    )
    return Visit(minutes, chosen, left_out)


def worth_of(turn: Turn) -> tuple[int, int, int, int]:
    """Horns freed to be played; pupils or families who wait for it, or play another; loans about to end; the
    weight of the fault."""
    return (
        int(_frees(turn)),
        int(turn.waiting in {Waiting.HANDED_IN, Waiting.FAMILY, Waiting.SWAPPED}),
        int(turn.waiting is Waiting.LOAN_ENDS_SOON),
        WEIGHT[turn.severity] + 1,
    )


def _outdone(turn: Turn, left: Mapping[int, int]) -> str:
    """Why a job that could be done alone is not among today's; `left` are the pieces that those leave."""
    for part, count in turn.wants:
        if left[part.pk] < count:
            return _s("the last %(part)s serves more in another job") % {"part": part.name}
    return _s("the minutes serve more in other jobs")


def _frees(turn: Turn) -> bool:
    return WEIGHT[turn.severity] >= WEIGHT["r"]


def _why_not(turn: Turn, minutes: int) -> str:
    if turn.gone:
        return turn.gone
    if turn.whereabouts.is_with_family:
        asked = _s("its family brings it on %(bring_on)s") % {"bring_on": day(turn.bring_on)} if turn.bring_on else ""
        return asked or _s("a family has the horn: ask for it first")
    if not turn.is_here:
        return turn.whereabouts.words or turn.whereabouts.state
    if turn.missing:
        return _s("no %(missing)s left") % {"missing": turn.missing[0]}
    if turn.held_up:
        return _s("waiting for parts")
    if turn.minutes is None or turn.more:
        return _s("nobody knows how long it takes: give it minutes, and it can be planned")
    if turn.minutes > minutes:
        return _s("takes longer than the visit: %(minutes)s min") % {"minutes": turn.minutes}
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
