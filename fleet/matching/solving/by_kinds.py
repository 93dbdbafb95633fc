"""The cheapest assignment of pupils to horns where many are alike: kinds are shared out, not pairs.

Five thousand pupils and as many horns are twenty-five million pairs, and a thousand megabytes to the solver, but a few
hundred kinds of either. So many of a kind of pupil get a horn of a kind; who gets which is then read off. The share-out
is a flow of least cost, found by successive shortest paths (Ahuja, Magnanti and Orlin, Network Flows, 1993, 9.7).
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

# So many pairs to one of kinds, and kinds are shared out; else the solver of pairs is quicker.
MANY_ALIKE = 256


@dataclass(frozen=True)
class ByKinds:
    """`cost` is that of each kind of row with each kind of column, `never` where they may not be together, which is
    also what a row without a column costs; `row_of` and `column_of` are the kinds of all. The pairs of a row and a
    column in `own`, which name any column once, cost `less` where they may be together. Numbers that sum exactly."""

    cost: Any
    row_of: list[int]
    column_of: list[int]
    never: float
    less: float
    own: list[tuple[int, int]]

    @cached_property
    def of_pairs(self) -> np.ndarray[Any, Any]:
        """The cost of every pair, float64 of shape (rows, columns)."""
        # The only step over the whole matrix.
        cost: np.ndarray[Any, Any] = self.cost.take(self.row_of, axis=0).take(self.column_of, axis=1)
        if self.less:
            for row, column in self.own:
                if cost[row, column] < self.never:
                    cost[row, column] -= self.less
        return cost


def cheapest(asked: ByKinds) -> list[int]:
    """For each row its column, -1 for none, so that the sum is least."""
    alike = len(asked.row_of) * len(asked.column_of) > MANY_ALIKE * asked.cost.size
    return _shared_out(asked) if alike else _solved(asked)


def _solved(asked: ByKinds) -> list[int]:
    from scipy.optimize import linear_sum_assignment

    cost = asked.of_pairs
    rows, columns = linear_sum_assignment(cost)
    chosen = [-1] * len(asked.row_of)
    may_be = (cost[rows, columns] < asked.never).tolist()
    for row, column, good in zip(rows.tolist(), columns.tolist(), may_be, strict=True):
        if good:
            chosen[row] = column
    return chosen


def _shared_out(asked: ByKinds) -> list[int]:
    import numpy as np

    cost, row_of = asked.cost, list(asked.row_of)
    # Who has several horns keeps one of them at most, and so is a kind of its own.
    for row, many in Counter(row for row, _ in asked.own).items():
        if many > 1:
            cost = np.vstack([cost, cost[row_of[row]]])
            row_of[row] = len(cost) - 1
    owned = np.zeros(cost.shape, dtype=np.int64)
    for row, column in asked.own:
        owned[row_of[row], asked.column_of[column]] += 1
    rows = np.bincount(np.array(row_of, dtype=np.int64), minlength=len(cost))
    columns = np.bincount(np.array(asked.column_of, dtype=np.int64), minlength=cost.shape[1])
    shared = _shares(replace(asked, cost=cost), rows, columns, owned)
    chosen, given = [-1] * len(row_of), set[int]()
    for row, column in asked.own:
        kinds = row_of[row], asked.column_of[column]
        if shared[kinds]:
            shared[kinds] -= 1
            chosen[row] = column
            given.add(column)
    free: defaultdict[int, deque[int]] = defaultdict(deque)
    for column, kind in enumerate(asked.column_of):
        if column not in given:
            free[kind].append(column)
    gets = [deque(np.repeat(np.arange(len(share)), share).tolist()) for share in shared]
    for row, kind in enumerate(row_of):
        if chosen[row] < 0 and gets[kind]:
            chosen[row] = free[gets[kind].popleft()].popleft()
    return chosen


def _shares(asked: ByKinds, rows: Any, columns: Any, owned: Any) -> Any:
    """How many of each kind of row get each kind of column, of so many `rows` and `columns`; `owned` cost less."""
    import numpy as np

    flow = np.zeros(asked.cost.shape, dtype=np.int64)
    may = asked.cost < asked.never
    while True:
        # What one more of a pair of kinds costs, and what one fewer saves.
        more = np.where(may, asked.cost - asked.less * (flow < owned), np.inf)
        fewer = np.where(flow > 0, asked.cost - asked.less * (flow <= owned), -np.inf)
        end, steps = _shortest(more, fewer, rows, columns, asked.never)
        if not steps:
            return flow
        many = min(int(rows[steps[-1][0]]), int(columns[end]))
        for row, column, way in steps:
            has, own = int(flow[row, column]), int(owned[row, column])
            if way > 0 and has < own:
                many = min(many, own - has)
            elif way < 0:
                many = min(many, has - own if has > own else has)
        for row, column, way in steps:
            flow[row, column] += way * many
        rows[steps[-1][0]] -= many
        columns[end] -= many


def _shortest(more: Any, fewer: Any, rows: Any, columns: Any, never: float) -> tuple[int, list[tuple[int, int, int]]]:
    """The cheapest way from a kind of row that waits to a kind of column that is free, that column first: (row, column,
    1 where they get one more together or -1). No steps where none costs less than `never`."""
    import numpy as np

    to_row = np.where(rows > 0, 0.0, np.inf)
    to_column = np.full(len(columns), np.inf)
    row_before, column_before = np.zeros_like(columns), np.full(len(rows), -1)
    while True:
        ways = to_row[:, None] + more
        least = ways.min(axis=0)
        better = least < to_column
        if not better.any():
            break
        row_before[better] = ways[:, better].argmin(axis=0)
        to_column[better] = least[better]
        ways = to_column[None, :] - fewer
        least = ways.min(axis=1)
        better = least < to_row
        if not better.any():
            break
        column_before[better] = ways[better].argmin(axis=1)
        to_row[better] = least[better]
    ends = np.where(columns > 0, to_column, np.inf)
    column = end = int(ends.argmin())
    if not ends[end] < never:
        return end, []
    steps = []
    while True:
        row = int(row_before[column])
        steps.append((row, column, 1))
        if (column := int(column_before[row])) < 0:
            return end, steps
        steps.append((row, column, -1))
