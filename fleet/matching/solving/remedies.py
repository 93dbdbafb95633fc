"""What would serve the pupils who stay without a horn: the cheapest set of remedies, found by solving again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _s

from fleet.matching.solving.assigning import Proposal
from fleet.matching.solving.by_kinds import ByKinds, cheapest
from fleet.matching.solving.points import kinds, points
from fleet.matching.solving.rows import HornRow, PupilRow
from fleet.register.models.kinds import stand_in_words

if TYPE_CHECKING:
    import numpy as np

# Minutes order the remedies, they are never a quote. Looking at a horn comes before all work, however short, and a new
# horn after everything that work can do.
RESTRING_MINUTES = 30
WORK = 1_000
BUY = 100_000
LOOKING = frozenset({"identify", "check", "clean"})
BUYING = "buy"
# Of remedies at one price those are taken that leave most pupils the horn they are proposed. Far less than a minute
# even for all pupils together, and a power of two, so that sums stay exact.
ANOTHER_HORN = 2.0**-13
# Beyond this much work the remedies are listed without saying whom each of them serves.
WORTH_SOLVING = 6_000_000


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something that gives one more horn, or another stand to one there is. `horn` is the horn as it is then.

    `kind` is "identify", "check", "clean", "mend", "restring" or "buy"; `minutes` are of work, 0 for buying.
    """

    kind: str
    horn: HornRow
    minutes: int = 0
    what: str = ""

    @property
    def price(self) -> int:
        if self.kind == BUYING:
            return BUY
        return self.minutes if self.kind in LOOKING else WORK + self.minutes

    @property
    def line(self) -> tuple[int, str, str, str, str, bool]:
        """The same for remedies that differ in nothing but which horn it is: they are told in one line."""
        bought = self.horn if self.kind == BUYING else None
        sort = (bought.kind, bought.stand, bought.compact) if bought else ("", "", False)
        return (self.price, self.kind, self.what, *sort)


@dataclass(frozen=True, slots=True)
class Move:
    """One remedy, and who has a horn once this and all before it are done who had none before."""

    remedy: Remedy
    serves: tuple[PupilRow, ...]


def remedies(proposal: Proposal, could_be: Sequence[Remedy]) -> list[Move]:
    """The cheapest remedies that serve everybody, the cheapest of them first; none when nobody is left without.

    `could_be` are horns that may not be lent yet and what that takes. Restringing horns that may be lent and buying
    are thought of here.
    """
    if not proposal.left:
        return []
    chosen = sorted(_cheapest(proposal, could_be), key=lambda remedy: (remedy.line, remedy.horn.place))
    return _in_steps(proposal, chosen)


def _cheapest(proposal: Proposal, could_be: Sequence[Remedy]) -> list[Remedy]:
    """One assignment of every pupil over the horns there are and those there could be, with minutes for cost."""
    import numpy as np

    could_be = sorted(could_be, key=lambda remedy: (remedy.price, remedy.horn.place))
    bought = [_bought(place, pupil) for place, pupil in enumerate(proposal.left)]
    first: list[Remedy | None] = [None] * len(proposal.horns)
    ways: list[Remedy | None] = [*first, *could_be, *bought]
    horns = [*proposal.horns, *(remedy.horn for remedy in (*could_be, *bought))]
    prices = [remedy.price if remedy else 0 for remedy in ways]
    never = float(sum(prices) + (WORK + RESTRING_MINUTES) * len(horns)) * 2
    # One of each kind of pupil and of horn stands for all.
    wanting, row_of = kinds((pupil.needs_compact, pupil.needs_kind, pupil.stand) for pupil in proposal.pupils)
    offered, column_of = kinds(
        (horn.compact, horn.kind, horn.stand, horn.other_stands, price)
        for horn, price in zip(horns, prices, strict=True)
    )
    pupils = [proposal.pupils[row_of.index(kind)] for kind in range(len(wanting))]
    some = [horns[column_of.index(kind)] for kind in range(len(offered))]
    minutes = np.array([price for *_, price in offered], dtype=np.float64)
    as_they_are = points(pupils, some, proposal.weights, proposal.ages).allowed
    cost = np.where(as_they_are, minutes[None, :], never)
    restrung: dict[tuple[int, int], str] = {}
    for stand in sorted({stand for horn in some for stand in horn.other_stands}):
        columns = [place for place, horn in enumerate(some) if stand in horn.other_stands]
        others = [replace(some[place], stand=stand) for place in columns]
        better = points(pupils, others, proposal.weights, proposal.ages).allowed & ~as_they_are[:, columns]
        for row, at in zip(*(found.tolist() for found in better.nonzero()), strict=True):
            cost[row, columns[at]] = minutes[columns[at]] + WORK + RESTRING_MINUTES
            restrung[row, columns[at]] = stand
    own = [(row, column) for row, column in enumerate(proposal.of_pupil) if column >= 0]
    chosen: list[Remedy] = []
    for row, column in enumerate(cheapest(ByKinds(cost, row_of, column_of, never, ANOTHER_HORN, own))):
        if column >= 0:
            stand = restrung.get((row_of[row], column_of[column]), "")
            chosen += _needed_for(ways[column], horns[column], stand)
    return chosen


def _needed_for(way: Remedy | None, horn: HornRow, stand: str) -> list[Remedy]:
    if not stand:
        return [way] if way is not None else []
    what = _s("so that it stands in %(stand)s") % {"stand": stand_in_words(stand)}
    if way is None:
        return [Remedy("restring", replace(horn, stand=stand), RESTRING_MINUTES, what)]
    named = {"first": way.what, "what": what}
    also = _s("%(first)s, and restring it %(what)s") % named if way.what else _s("restring it %(what)s") % named
    return [replace(way, horn=replace(horn, stand=stand), minutes=way.minutes + RESTRING_MINUTES, what=also)]


def _bought(place: int, pupil: PupilRow) -> Remedy:
    """A horn such as this pupil needs, under a key that no real horn has."""
    horn = HornRow(
        key=-1 - place,
        number="",
        kind=pupil.needs_kind or "single",
        stand=pupil.stand or "F",
        compact=pupil.needs_compact,
        room=pupil.room,
    )
    return Remedy(BUYING, horn)


def _in_steps(proposal: Proposal, chosen: Sequence[Remedy]) -> list[Move]:
    """Solve again after each remedy, letting who has a horn keep one, and see who is served who was not."""
    if len(proposal.pupils) * len(proposal.horns) * len(chosen) > WORTH_SOLVING:
        return [Move(remedy, ()) for remedy in chosen]
    steps = []
    served = {row for row, column in enumerate(proposal.of_pupil) if column >= 0}
    horns = [*proposal.horns, *(remedy.horn for remedy in chosen)]
    # Whether a pair may be hangs on no other.
    allowed = points(proposal.pupils, horns, proposal.weights, proposal.ages).allowed
    column_of = {horn.key: column for column, horn in enumerate(proposal.horns)}
    for column, remedy in enumerate(chosen, start=len(proposal.horns)):
        column_of[remedy.horn.key] = column
        again = _served(allowed[:, list(column_of.values())], served)
        steps.append(Move(remedy, tuple(proposal.pupils[row] for row in sorted(again - served))))
        served = again
    return steps


def _served(allowed: np.ndarray[Any, Any], before: set[int]) -> set[int]:
    """The places of pupils who can have a horn, of pairs that may be, pupils by horns: as many as can be, rather those
    who could before."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    worth = np.full(len(allowed), float(len(allowed)))
    worth[sorted(before)] += 1
    rows, columns = linear_sum_assignment(np.where(allowed, -worth[:, None], 0.0))
    return {row for row, column in zip(rows.tolist(), columns.tolist(), strict=True) if allowed[row, column]}
