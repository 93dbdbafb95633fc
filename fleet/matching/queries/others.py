"""Another horn for one pupil: each horn there is, and what the whole proposal would be with it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.matching.queries.asked import MatchingAsked
from fleet.matching.queries.candidates import Pool
from fleet.matching.solving.assigning import Proposal, propose
from fleet.matching.solving.points import points
from fleet.matching.solving.reasons import listed, suits
from fleet.people.models import Pupil
from fleet.register.models import Horn

# Solving anew for each horn is quick for some classes and not for a whole town.
MOST_TO_SOLVE = 60
LARGEST = 40_000
SHOWN = 6


@dataclass(frozen=True)
class Other:
    horn: Horn
    words: list[str]
    effect: str
    address: str


@dataclass(frozen=True)
class OtherHorns:
    """A pupil, the horns that could be theirs, and the addresses that take this pupil or their horn out of it."""

    pupil: Pupil
    others: list[Other]
    leave: str
    without: str
    horn: Horn | None

    @property
    def first(self) -> list[Other]:
        return self.others[:SHOWN]

    @property
    def rest(self) -> list[Other]:
        return self.others[SHOWN:]


def others_for(proposal: Proposal, pool: Pool, asked: MatchingAsked) -> OtherHorns:
    """The horns for the pupil `asked.choose`, the best of them first."""
    key = asked.choose
    fixed = [pair for pair in asked.fixed if pair[0] != key]
    mine = next(row for row in pool.pupils if row.key == key)
    now = next((pair.horn.key for pair in proposal.pairs if pair.pupil.key == key), None)
    taken = {horn for _, horn in fixed}
    free = [row for row in pool.horns if row.key not in taken]
    base = propose(pool.pupils, pool.horns, asked.weights, fixed=fixed)
    worth = points([mine], free, asked.weights, base.ages)
    solve = len(pool.pupils) * len(pool.horns) <= LARGEST and len(free) <= MOST_TO_SOLVE
    found = []
    for column, row in enumerate(free):
        may = worth.may(0, column)
        own = worth.of(0, column) if may else 0.0
        served, total, effect = len(base.pairs), own, ""
        if solve:
            again = propose(pool.pupils, pool.horns, asked.weights, fixed=[*fixed, (mine.key, row.key)])
            served, total = len(again.pairs), again.total + own
            effect = _effect(base, again, total - base.total)
        if row.key == now:
            effect = _s("The proposal")
        other = Other(pool.instruments[row.key], suits(mine, row), effect, asked.fixing(mine.key, row.key))
        found.append(((row.key != now, not may, -served, -total, column), other))
    found.sort(key=lambda one: one[0])
    return OtherHorns(
        pupil=pool.people[mine.key],
        others=[other for _, other in found],
        leave=asked.query(leave=(*asked.leave, mine.key), fixed=tuple(fixed)),
        without=asked.query(without=(*asked.without, now), fixed=tuple(pair for pair in asked.fixed if pair[1] != now))
        if now is not None
        else "",
        horn=pool.instruments[now] if now is not None else None,
    )


def _effect(base: Proposal, again: Proposal, total: float) -> str:
    """What the whole becomes: who goes without who did not, else how good it is by the points."""
    before = {row.key for row in base.left}
    without = [row.name for row in again.left if row.key not in before]
    if without:
        if len(again.left) > len(base.left):
            said = _s_many("%(names)s goes without", "%(names)s go without", len(without))
        else:
            said = _s_many("%(names)s goes without instead", "%(names)s go without instead", len(without))
        return said % {"names": listed(without, "pupils")}
    return _s("As good") if total >= 0 else _s("Less good as a whole")
