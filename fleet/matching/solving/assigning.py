"""The best proposal: as many pupils as can be served, and among those ways the one with the most points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from fleet.matching.solving.by_kinds import cheapest
from fleet.matching.solving.points import Points, ages_of, points
from fleet.matching.solving.rows import HornRow, PupilRow, Weights


@dataclass(frozen=True, slots=True)
class Pair:
    pupil: PupilRow
    horn: HornRow
    fixed: bool = False

    @property
    def kept(self) -> bool:
        return self.horn.held_by == self.pupil.key


@dataclass(slots=True)
class Proposal:
    """`pairs` in the order of the pupils' names; `left` are those without a horn; `unused` the horns nobody gets.

    `pupils`, `horns` and `points` are what was solved, in one order; fixed pairs are not among them. `ages` is
    `ages_of` all pupils, fixed ones too.
    """

    weights: Weights
    pupils: list[PupilRow]
    horns: list[HornRow]
    points: Points
    ages: dict[int, int]
    pairs: list[Pair] = field(default_factory=list)
    left: list[PupilRow] = field(default_factory=list)
    unused: list[HornRow] = field(default_factory=list)
    # For each pupil the place of the horn among `horns`, -1 for none.
    of_pupil: list[int] = field(default_factory=list)

    @property
    def total(self) -> float:
        """The points of all pairs that were not fixed."""
        rows = ((row, column) for row, column in enumerate(self.of_pupil) if column >= 0)
        return sum(self.points.of(row, column) for row, column in rows)


def propose(
    pupils: Sequence[PupilRow],
    horns: Sequence[HornRow],
    weights: Weights,
    *,
    fixed: Sequence[tuple[int, int]] = (),
) -> Proposal:
    """Which pupil gets which horn. `fixed` are (pupil key, horn key) that stay together whatever they are worth.

    The same rows give the same proposal in whatever order they come. Fixed pairs whose pupil or horn is not among
    the rows, or is fixed already, are left out.
    """
    pupils = sorted(pupils, key=lambda row: row.place)
    horns = sorted(horns, key=lambda row: row.place)
    kept = _fixed(pupils, horns, fixed)
    free_pupils = [row for row in pupils if row.key not in kept]
    taken = {horn.key for horn in kept.values()}
    free_horns = [row for row in horns if row.key not in taken]
    ages = ages_of(pupils)
    worth = points(free_pupils, free_horns, weights, ages)
    proposal = Proposal(weights, free_pupils, free_horns, worth, ages, of_pupil=cheapest(worth.asked))
    by_key = {row.key: column for row, column in zip(free_pupils, proposal.of_pupil, strict=True)}
    for row in pupils:
        if row.key in kept:
            proposal.pairs.append(Pair(row, kept[row.key], fixed=True))
        elif by_key[row.key] >= 0:
            proposal.pairs.append(Pair(row, free_horns[by_key[row.key]]))
        else:
            proposal.left.append(row)
    given = {pair.horn.key for pair in proposal.pairs}
    proposal.unused = [row for row in free_horns if row.key not in given]
    return proposal


def _fixed(
    pupils: Sequence[PupilRow], horns: Sequence[HornRow], fixed: Sequence[tuple[int, int]]
) -> dict[int, HornRow]:
    known = {row.key for row in pupils}
    free = {row.key: row for row in horns}
    kept: dict[int, HornRow] = {}
    for pupil, horn in fixed:
        if pupil in known and pupil not in kept and horn in free:
            kept[pupil] = free.pop(horn)
    return kept
