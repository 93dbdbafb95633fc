"""What to buy, mend and restring in which of some years, so that most pupils have a horn: a program in whole numbers.

All that can be done over the years is decided at once, since a horn bought in the first year serves in every later one.
Money is in cents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

BUY, MEND, RESTRING = "buy", "mend", "restring"
# Cents by which a deed counts as dearer the earlier it is done: of plans at one price the later and the shorter.
EARLY = 0.001
# Seconds after which the best plan found so far is taken.
PATIENCE = 20.0


@dataclass(frozen=True, slots=True)
class AlikeHorns:
    """So many equal horns. `serves` are the places of the needs they meet as they stand, `restrung` what they would
    meet in another stand. They may be played in the first `lasts` years, later once mended for `mend`; never where that
    is None.

    Raises ValueError for more than one horn that may want both mending and restringing: which is which would be open.
    """

    horns: int
    serves: frozenset[int]
    lasts: int
    mend: int | None = None
    restrung: tuple[tuple[str, frozenset[int]], ...] = ()

    def __post_init__(self) -> None:
        if self.horns > 1 and self.restrung and self.mend is not None:
            raise ValueError("Horns to be mended and restrung stand alone.")


@dataclass(frozen=True, slots=True)
class Offer:
    """A horn that may be bought, as often as wanted. It lasts to the end of the plan."""

    serves: frozenset[int]
    price: int


@dataclass(frozen=True, slots=True)
class YearsTask:
    """`needs` says for each year how many pupils there are of each need; `budgets` how much may be spent in it, and
    with `saved` what is left over goes into the next."""

    needs: tuple[tuple[int, ...], ...]
    stock: tuple[AlikeHorns, ...]
    offers: tuple[Offer, ...]
    budgets: tuple[int, ...]
    restring: int = 0
    saved: bool = False


@dataclass(frozen=True, slots=True)
class YearsDeed:
    """`number` horns of the stock or offer at the place `of` are bought, mended or restrung in the year at `year`."""

    kind: str
    of: int
    year: int
    number: int
    cost: int
    stand: str = ""


@dataclass(frozen=True, slots=True)
class YearsPlan:
    """`served` says for each year how many pupils of each need have a horn; `proven` whether no plan is better."""

    deeds: tuple[YearsDeed, ...]
    served: tuple[tuple[int, ...], ...]
    proven: bool = True


def best_plan(task: YearsTask) -> YearsPlan:
    """The plan in which most pupils have a horn, year by year added up, and among those the cheapest."""
    program = _Program(task)
    most = program.solve()
    cheapest = program.solve(at_least=round(most.served))
    # Where time ran out before a cheaper one was found, the first is a plan too.
    best = cheapest if cheapest.served >= round(most.served) else most
    return YearsPlan(program.deeds(best.values), program.who(best.values), most.proven and cheapest.proven)


def served_by(task: YearsTask, deeds: Sequence[YearsDeed]) -> tuple[tuple[int, ...], ...]:
    """How many pupils of each need have a horn in each year when just these deeds are done."""
    program = _Program(task)
    return program.who(program.solve(done=deeds).values)


@dataclass(frozen=True, slots=True)
class _Solved:
    values: list[int]
    served: float
    proven: bool


@dataclass(slots=True)
class _Program:
    """Columns: deeds (kind, of, stand, year) with their price, then pupils with a horn. Rows: bounds from above."""

    task: YearsTask
    columns: dict[tuple[str, int, str, int], int] = field(default_factory=dict)
    prices: list[int] = field(default_factory=list)
    has: dict[int, tuple[int, int]] = field(default_factory=dict)
    cells: list[tuple[int, int, float]] = field(default_factory=list)
    bounds: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        task, years = self.task, range(len(self.task.needs))
        for at, one in enumerate(task.stock):
            mended = [self._deed(MEND, at, "", year, one.mend) for year in years if year >= one.lasts]
            turned = {
                stand: [self._deed(RESTRING, at, stand, year, task.restring) for year in years]
                for stand, _ in one.restrung
            }
            every = [column for columns in turned.values() for column in columns]
            self._row([(column, 1) for column in mended if column is not None], one.horns)
            self._row([(column, 1) for column in every if column is not None], one.horns)
        for at, offer in enumerate(task.offers):
            for year in years:
                self._deed(BUY, at, "", year, offer.price)
        self._money()
        wanted: list[list[list[int]]] = [[[] for _ in task.needs[year]] for year in years]
        for year in years:
            for at, one in enumerate(task.stock):
                self._lend(at, one, year, wanted[year])
            for at, offer in enumerate(task.offers):
                used = self._pupils(offer.serves, year, wanted[year])
                self._row([*used, *self._until(BUY, at, "", year, -1)], 0)
            for need, columns in enumerate(wanted[year]):
                self._row([(column, 1) for column in columns], task.needs[year][need])

    def _deed(self, kind: str, of: int, stand: str, year: int, price: int | None) -> int | None:
        if price is None:
            return None
        self.columns[kind, of, stand, year] = len(self.prices)
        self.prices.append(price)
        return len(self.prices) - 1

    def _row(self, cells: Sequence[tuple[int, float]], most: float) -> None:
        if cells:
            self.cells += [(len(self.bounds), column, value) for column, value in cells]
            self.bounds.append(most)

    def _money(self) -> None:
        for year, budget in enumerate(self.task.budgets):
            first = 0 if self.task.saved else year
            spent = [
                (at, float(self.prices[at])) for (_, _, _, when), at in self.columns.items() if first <= when <= year
            ]
            self._row(spent, sum(self.task.budgets[: year + 1]) if self.task.saved else budget)

    def _until(self, kind: str, of: int, stand: str, year: int, value: float) -> list[tuple[int, float]]:
        whens = (self.columns.get((kind, of, stand, when)) for when in range(year + 1))
        return [(column, value) for column in whens if column is not None]

    def _pupils(self, serves: frozenset[int], year: int, wanted: list[list[int]]) -> list[tuple[int, float]]:
        """A column for the pupils of each need who have one of these horns."""
        used: list[tuple[int, float]] = []
        for need in sorted(serves):
            column = len(self.prices)
            self.prices.append(0)
            self.has[column] = (year, need)
            wanted[need].append(column)
            used.append((column, 1))
        return used

    def _lend(self, at: int, one: AlikeHorns, year: int, wanted: list[list[int]]) -> None:
        as_it_stands = self._pupils(one.serves, year, wanted)
        all_of_it, away = list(as_it_stands), []
        for stand, serves in one.restrung:
            used = self._pupils(serves, year, wanted)
            self._row([*used, *self._until(RESTRING, at, stand, year, -1)], 0)
            away += self._until(RESTRING, at, stand, year, 1)
            all_of_it += used
        if as_it_stands:
            self._row([*as_it_stands, *away], one.horns)
        if year >= one.lasts and all_of_it:
            self._row([*all_of_it, *self._until(MEND, at, "", year, -1)], 0)

    def solve(self, *, at_least: int | None = None, done: Sequence[YearsDeed] | None = None) -> _Solved:
        """Serve as many as can be; with `at_least` as cheaply as can be so many; with `done` by those deeds alone."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import coo_array

        if not self.prices:
            return _Solved([], 0.0, True)
        rows, columns, values = zip(*self.cells, strict=True)
        matrix = coo_array((values, (rows, columns)), shape=(len(self.bounds), len(self.prices))).tocsr()
        serves: Any = np.zeros(len(self.prices))
        serves[list(self.has)] = 1.0
        limits = [LinearConstraint(matrix, ub=np.array(self.bounds))]
        cost = -serves
        if at_least is not None:
            years = len(self.task.needs)
            cost = np.array(self.prices, dtype=np.float64)
            for (_, _, _, year), column in self.columns.items():
                cost[column] += EARLY * (years - year)
            limits.append(LinearConstraint(serves[None, :], lb=at_least))
        low, high = np.zeros(len(self.prices)), np.full(len(self.prices), np.inf)
        if done is not None:
            high[list(self.columns.values())] = 0
            for deed in done:
                column = self.columns[deed.kind, deed.of, deed.stand, deed.year]
                low[column] = high[column] = deed.number
        patience = {"time_limit": PATIENCE, "mip_rel_gap": 0.0}
        found = milp(
            cost, integrality=np.ones(len(cost)), bounds=Bounds(low, high), constraints=limits, options=patience
        )
        if found.x is None:
            return _Solved([0] * len(self.prices), 0.0, False)
        whole = np.rint(found.x)
        return _Solved(whole.astype(int).tolist(), float(serves @ whole), found.status == 0)

    def deeds(self, values: Sequence[int]) -> tuple[YearsDeed, ...]:
        """What is done, year by year: mended before restrung, and both before anything is bought."""
        order = (MEND, RESTRING, BUY)
        done = [
            YearsDeed(kind, of, year, values[at], self.prices[at] * values[at], stand)
            for (kind, of, stand, year), at in self.columns.items()
            if values[at]
        ]
        return tuple(sorted(done, key=lambda deed: (deed.year, order.index(deed.kind), deed.of, deed.stand)))

    def who(self, values: Sequence[int]) -> tuple[tuple[int, ...], ...]:
        served = [[0] * len(year) for year in self.task.needs]
        for column, (year, need) in self.has.items():
            served[year][need] += values[column] if values else 0
        return tuple(map(tuple, served))
