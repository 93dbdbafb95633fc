"""What to buy, mend and restring over some years, against every way there is."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import pytest
import scipy.optimize
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.matching.solving.years import (
    BUY,
    MEND,
    RESTRING,
    AlikeHorns,
    Offer,
    YearsDeed,
    YearsPlan,
    YearsTask,
    best_plan,
    served_by,
)

pytestmark = pytest.mark.either_engine
A, B, BOTH = frozenset({0}), frozenset({1}), frozenset({0, 1})


def most_served(horns: list[frozenset[int]], needs: tuple[int, ...]) -> int:
    """The most pupils that can have one of these horns, tried one horn after the other."""
    if not horns:
        return 0
    best = most_served(horns[1:], needs)
    for need in horns[0]:
        if needs[need]:
            left = tuple(number - (at == need) for at, number in enumerate(needs))
            best = max(best, 1 + most_served(horns[1:], left))
    return best


Life = tuple[AlikeHorns, int | None, tuple[str, int] | None]


def lives(one: AlikeHorns, years: int) -> Iterator[Life]:
    """All that can happen to a single horn: when it is mended and when it is restrung to what, if ever."""
    mended = [None, *(range(one.lasts, years) if one.mend is not None else ())]
    turned = [None, *((stand, year) for stand, _ in one.restrung for year in range(years))]
    for when, to in product(mended, turned):
        yield one, when, to


def every_way(task: YearsTask) -> tuple[int, int]:
    """(pupils served over the years, what it costs) of the best there is, by trying everything."""
    years = len(task.needs)
    singles = [one for one in task.stock for _ in range(one.horns)]
    bought = [range(sum(task.budgets) // offer.price + 1) for offer in task.offers for _ in range(years)]
    best = (0, 0)
    for fates in product(*(list(lives(one, years)) for one in singles)):
        for numbers in product(*bought):
            spent = [0] * years
            for one, when, to in fates:
                if when is not None:
                    spent[when] += one.mend or 0
                if to is not None:
                    spent[to[1]] += task.restring
            for at, number in enumerate(numbers):
                spent[at % years] += number * task.offers[at // years].price
            if not within(spent, task):
                continue
            served = 0
            for year in range(years):
                horns = [now for fate in fates if (now := plays(fate, year)) is not None]
                for at, number in enumerate(numbers):
                    if at % years <= year:
                        horns += [task.offers[at // years].serves] * number
                served += most_served(horns, task.needs[year])
            best = max(best, (served, -sum(spent)))
    return best[0], -best[1]


def plays(life: Life, year: int) -> frozenset[int] | None:
    """The needs a horn meets in a year, None where it may not be played."""
    one, mended, turned = life
    if year >= one.lasts and (mended is None or mended > year):
        return None
    return dict(one.restrung)[turned[0]] if turned is not None and turned[1] <= year else one.serves


def within(spent: list[int], task: YearsTask) -> bool:
    left = 0
    for cost, budget in zip(spent, task.budgets, strict=True):
        left = (left if task.saved else 0) + budget - cost
        if left < 0:
            return False
    return True


sets = st.sampled_from([A, B, BOTH])


@st.composite
def tasks(draw: st.DrawFn) -> YearsTask:
    years = draw(st.integers(1, 2))
    stock = []
    for _ in range(draw(st.integers(0, 2))):
        restrung = (("Bb", draw(sets)),) if draw(st.booleans()) else ()
        mend = draw(st.none() | st.integers(0, 3))
        horns = 1 if restrung or draw(st.booleans()) else 2
        stock.append(AlikeHorns(horns, draw(sets), draw(st.integers(0, years)), mend, restrung))
    offers = [Offer(draw(sets), draw(st.integers(2, 4))) for _ in range(draw(st.integers(0, 1)))]
    needs = tuple((draw(st.integers(0, 3)), draw(st.integers(0, 2))) for _ in range(years))
    budgets = tuple(draw(st.integers(0, 5)) for _ in range(years))
    return YearsTask(needs, tuple(stock), tuple(offers), budgets, draw(st.integers(0, 2)), draw(st.booleans()))


@settings(max_examples=60, deadline=None)
@given(tasks())
def test_no_other_way_serves_more_or_costs_less(task: YearsTask) -> None:
    plan = best_plan(task)

    assert (sum(map(sum, plan.served)), sum(deed.cost for deed in plan.deeds)) == every_way(task)
    assert plan.proven
    assert [sum(year) for year in served_by(task, plan.deeds)] == [sum(year) for year in plan.served]
    assert all(
        had <= wanted for years in zip(plan.served, task.needs, strict=True) for had, wanted in zip(*years, strict=True)
    )


def one_year(needs: int, budget: int, **more: object) -> YearsTask:
    return YearsTask(((needs,),), **{"stock": (), "offers": (Offer(A, 100),), "budgets": (budget,), **more})  # type: ignore[arg-type]


@pytest.mark.parametrize(("budget", "bought"), [(99, 0), (100, 1), (199, 1), (200, 2), (1000, 2)])
def test_so_many_are_bought_as_the_budget_pays_and_no_more_than_are_needed(budget: int, bought: int) -> None:
    assert sum(deed.number for deed in best_plan(one_year(2, budget)).deeds) == bought


@pytest.mark.parametrize(("saved", "done"), [(False, []), (True, [(BUY, 1)])])
def test_a_horn_dearer_than_a_years_budget_is_bought_once_enough_is_left_over(saved: bool, done: list[object]) -> None:
    task = YearsTask(((1,), (1,)), (), (Offer(A, 100),), (50, 50), saved=saved)

    assert [(deed.kind, deed.year) for deed in best_plan(task).deeds] == done


@pytest.mark.parametrize(("lasts", "done"), [(0, [(MEND, 0)]), (1, [(MEND, 1)]), (2, [])])
def test_a_horn_is_mended_in_the_year_in_which_it_has_had_its_time(lasts: int, done: list[object]) -> None:
    task = YearsTask(((1,), (1,)), (AlikeHorns(1, A, lasts, 10),), (Offer(A, 100),), (100, 100))

    assert [(deed.kind, deed.year) for deed in best_plan(task).deeds] == done


def test_restringing_comes_before_buying_where_it_is_cheaper_and_a_horn_that_nobody_can_mend_is_replaced() -> None:
    restrung = YearsTask(((0, 1),), (AlikeHorns(3, A, 1, None, (("Bb", B),)),), (Offer(B, 100),), (100,), restring=5)
    gone = YearsTask(((1,),), (AlikeHorns(1, A, 0, None),), (Offer(A, 100),), (100,))

    assert best_plan(restrung).deeds == (YearsDeed(RESTRING, 0, 0, 1, 5, "Bb"),)
    assert best_plan(gone).deeds == (YearsDeed(BUY, 0, 0, 1, 100),)


def test_what_is_free_is_done_no_earlier_and_no_oftener_than_it_serves_somebody() -> None:
    task = YearsTask(((0,), (1,)), (AlikeHorns(2, A, 0, 0),), (), (0, 0))

    assert best_plan(task).deeds == (YearsDeed(MEND, 0, 1, 1, 0),)


def test_where_there_is_nothing_and_nobody_nothing_is_done() -> None:
    assert best_plan(YearsTask(((),), (), (), (100,))) == YearsPlan((), ((),))
    assert served_by(YearsTask(((2,),), (), (), (0,)), ()) == ((0,),)


def test_several_horns_to_be_mended_and_restrung_are_no_one_stock() -> None:
    with pytest.raises(ValueError, match="stand alone"):
        AlikeHorns(2, A, 0, 5, (("Bb", B),))


def test_a_plan_that_is_not_made_cheaper_in_time_is_kept_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    solve, asked = scipy.optimize.milp, []

    def out_of_time(*given: object, **more: object) -> object:
        found = solve(*given, **more)
        asked.append(found)
        if len(asked) == 2:
            found.x = None
        return found

    monkeypatch.setattr(scipy.optimize, "milp", out_of_time)
    plan = best_plan(one_year(3, 200))

    assert len(asked) == 2
    assert (plan.served, plan.proven) == (((2,),), False)
