"""Kinds shared out against scipy's linear_sum_assignment of pairs, on small numbers made up."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.matching.solving import by_kinds
from fleet.matching.solving.by_kinds import MANY_ALIKE, ByKinds, cheapest


def asked(cost, row_of, column_of, less=0.0, own=()) -> ByKinds:
    return ByKinds(np.array(cost, dtype=np.float64), row_of, column_of, 0.0, less, list(own))


@pytest.fixture(params=[0, 10**6], ids=["by kinds", "by pairs"])
def either_way(request, monkeypatch):
    monkeypatch.setattr(by_kinds, "MANY_ALIKE", request.param)


@st.composite
def some_alike(draw) -> ByKinds:
    small = st.integers(0, 2)
    row_of, column_of = draw(st.lists(small, min_size=1, max_size=6)), draw(st.lists(small, min_size=1, max_size=6))
    cost = draw(st.lists(st.lists(st.integers(-4, 0), min_size=3, max_size=3), min_size=3, max_size=3))
    owners = draw(st.lists(st.integers(-1, len(row_of) - 1), min_size=len(column_of), max_size=len(column_of)))
    own = [(row, column) for column, row in enumerate(owners) if row >= 0]
    return asked(cost, row_of, column_of, float(draw(st.integers(0, 3))), own)


@settings(max_examples=200, deadline=None)
@given(some_alike())
def test_kinds_shared_out_cost_what_the_solver_of_pairs_finds(one):
    costs = []
    for alike in (0, 10**6):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(by_kinds, "MANY_ALIKE", alike)
            chosen = cheapest(one)
        pairs = [(row, column) for row, column in enumerate(chosen) if column != -1]
        assert len({column for _, column in pairs}) == len(pairs)
        assert all(one.of_pairs[pair] < one.never for pair in pairs)
        costs.append(sum(one.of_pairs[pair] for pair in pairs))
    assert costs[0] == costs[1]


def test_who_has_one_keeps_it_and_the_others_get_the_next_in_turn(either_way):
    assert cheapest(asked([[-5]], [0, 0], [0, 0], 1.0, [(1, 0)])) == [1, 0]


def test_kinds_are_given_out_in_turn_and_who_is_left_has_none(monkeypatch):
    monkeypatch.setattr(by_kinds, "MANY_ALIKE", 0)
    assert cheapest(asked([[-5]], [0, 0, 0], [0, 0], 1.0, [(1, 0)])) == [1, 0, -1]


def test_only_one_of_several_that_somebody_has_counts_as_kept(either_way):
    # To keep one of the two and give the third to the other is worth 7, to give both away 6.
    one, other = cheapest(asked([[-2, -2, -3]], [0, 0], [0, 1, 2], 2.0, [(0, 0), (0, 1)]))
    assert (one in {0, 1}, other) == (True, 2)


@pytest.mark.parametrize(("rows", "way"), [(MANY_ALIKE, "_solved"), (MANY_ALIKE + 1, "_shared_out")])
def test_kinds_are_shared_out_beyond_256_pairs_to_one_of_kinds(rows, way, monkeypatch):
    for name in ("_solved", "_shared_out"):
        monkeypatch.setattr(by_kinds, name, lambda _, name=name: name)
    assert MANY_ALIKE == 256
    assert cheapest(asked([[-1]], [0] * rows, [0])) == way
