"""What each pair of a pupil and a horn is worth, as whole points, so that sums are exact and ties are ties."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from fleet.matching.solving.by_kinds import ByKinds
from fleet.matching.solving.rows import LEVELS, MUST, HornRow, PupilRow, Weights

if TYPE_CHECKING:
    import numpy as np

Row = TypeVar("Row", bound=Hashable)

# A rule that is wholly met is worth so many points times its weight. 49 is the finest step of `better`: 7 x 7.
WHOLE = 4 * 49
# A compact horn lent to somebody who could hold any: three quarters of the points of the wrap.
SPARED = 3 * 49
TOP = 7
NEVER = -1.0


@dataclass(frozen=True, slots=True)
class Points:
    """What the solver gets: the cost of each pair, 0 where it may not be.

    Elsewhere it is minus the pair's points, and less by `served` again: serving one pupil more always wins over
    points, and a pair that may not be costs what being left without a horn costs. Whole numbers, so sums are exact.
    """

    asked: ByKinds
    served: float

    @property
    def cost(self) -> np.ndarray[Any, Any]:
        """float64 of shape (pupils, horns)"""
        return self.asked.of_pairs

    @property
    def allowed(self) -> np.ndarray[Any, Any]:
        return self.cost < 0

    def may(self, row: int, column: int) -> bool:
        return bool(self.cost[row, column] < 0)

    def of(self, row: int, column: int) -> float:
        """The points of a pair that may be."""
        return float(-self.cost[row, column] - self.served)


def ages_of(pupils: Sequence[PupilRow]) -> dict[int, int]:
    """By the pupil's key 0 to 7, by rank among the years that occur; without a year one counts as the youngest."""
    years = sorted({pupil.year for pupil in pupils if pupil.year is not None})
    last = max(len(years) - 1, 1)
    place = {year: TOP * at // last for at, year in enumerate(years)} if len(years) > 1 else {}
    return {pupil.key: place.get(pupil.year, 0) if pupil.year is not None else 0 for pupil in pupils}


def points(
    pupils: Sequence[PupilRow], horns: Sequence[HornRow], weights: Weights, ages: Mapping[int, int] | None = None
) -> Points:
    """The points of every pair. `ages` is `ages_of` a wider circle of pupils, else of these.

    The rules look at few properties, so the pairs of *kinds* of pupil and horn are worked out; only `keep` is about
    single pairs.
    """
    import numpy as np

    ages = ages_of(pupils) if ages is None else ages
    code = _Codes()
    wanting, row_of = kinds(
        (pupil.needs_compact, code[pupil.needs_kind], code[pupil.stand], code[pupil.room], ages[pupil.key])
        for pupil in pupils
    )
    offered, column_of = kinds(
        (horn.compact, code[horn.kind], code[horn.stand], code[horn.room], horn.quality) for horn in horns
    )
    small = _of_kinds(wanting, offered, weights)
    most = float(small.max(initial=0.0)) + WHOLE * weights.keep
    served = (most + 1) * max(min(len(pupils), len(horns)), 1)
    small = np.where(small == NEVER, 0.0, -small - served)
    rows = {pupil.key: place for place, pupil in enumerate(pupils)}
    own = [
        (rows[horn.held_by], column)
        for column, horn in enumerate(horns)
        if horn.held_by is not None and horn.held_by in rows
    ]
    return Points(ByKinds(small, row_of, column_of, 0.0, float(WHOLE * weights.keep), own), served)


class _Codes(dict[str, int]):
    """Numbers words as they come; no word is 0."""

    def __missing__(self, word: str) -> int:
        self[word] = len(self) + 1 if word else 0
        return self[word]


def kinds(rows: Iterable[Row]) -> tuple[list[Row], list[int]]:
    """The different rows, and for each row which of them it is."""
    seen: dict[Row, int] = {}
    at = [seen.setdefault(row, len(seen)) for row in rows]
    return list(seen), at


def _of_kinds(wanting: Sequence[tuple[int, ...]], offered: Sequence[tuple[int, ...]], weights: Weights) -> Any:
    """Points for each kind of pupil (rows) with each kind of horn (columns), without `keep`."""
    import numpy as np

    needs_compact, needs_kind, class_stand, class_room, age = (column[:, None] for column in _columns(wanting))
    compact, kind, stand, room, quality = (column[None, :] for column in _columns(offered))
    allowed = (needs_kind == 0) | (needs_kind == kind)
    same_stand = (class_stand == 0) | (class_stand == stand)
    holds_it = (needs_compact == 0) | (compact == 1)
    if weights.stand == MUST:
        allowed &= same_stand
    if weights.wrap == MUST:
        allowed &= holds_it
    values = np.multiply((age * (WHOLE // TOP**2 * weights.better)), quality, dtype=np.float64)
    values += same_stand * float(WHOLE * _weight(weights.stand))
    values += holds_it * np.where(needs_compact < compact, SPARED, WHOLE) * float(_weight(weights.wrap))
    values += ((class_room == 0) | (class_room == room)) * float(WHOLE * weights.carry)
    # What nobody has found out yet may be any horn.
    values[~(allowed | (kind == 0))] = NEVER
    return values


def _columns(rows: Sequence[tuple[int, ...]]) -> Any:
    """The rows of five numbers as five columns."""
    import numpy as np

    return np.array(rows, dtype=np.int64).reshape(len(rows), 5).T


def _weight(level: int) -> int:
    """A rule that must be so also counts, as one that matters a lot: nothing that may be breaks it anyway."""
    return LEVELS[-1][0] if level == MUST else level
