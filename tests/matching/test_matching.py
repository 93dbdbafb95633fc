"""The matching against every way there is of handing out a few horns, and each rule against its own words."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.matching.solving import by_kinds
from fleet.matching.solving.assigning import propose
from fleet.matching.solving.points import WHOLE, points
from fleet.matching.solving.reasons import shortages, tied, why_left, whys
from fleet.matching.solving.remedies import BUY, RESTRING_MINUTES, WORK, Remedy, remedies
from fleet.matching.solving.rows import MUST, RULES, HornRow, PupilRow, Weights

NOTHING = Weights(keep=0, stand=0, wrap=0, better=0, carry=0)
weights = st.builds(
    Weights,
    keep=st.sampled_from([0, 1, 3, 9]),
    stand=st.sampled_from([0, 1, 3, 9, MUST]),
    wrap=st.sampled_from([0, 1, 3, 9, MUST]),
    better=st.sampled_from([0, 1, 3, 9]),
    carry=st.sampled_from([0, 1, 3, 9]),
)


def pupil_rows(most: int = 4) -> st.SearchStrategy[list[PupilRow]]:
    row = st.builds(
        PupilRow,
        key=st.just(0),
        name=st.sampled_from(["Ada", "Ben", "Noor"]),
        year=st.sampled_from([None, 3, 5, 8]),
        needs_compact=st.booleans(),
        needs_kind=st.sampled_from(["", "single", "double"]),
        stand=st.sampled_from(["", "F", "Bb"]),
        room=st.sampled_from(["", "Hall"]),
    )
    return st.lists(row, max_size=most).map(lambda rows: [replace(r, key=100 + n) for n, r in enumerate(rows)])


def horn_rows(most: int = 4) -> st.SearchStrategy[list[HornRow]]:
    row = st.builds(
        HornRow,
        key=st.just(0),
        number=st.just(""),
        kind=st.sampled_from(["single", "double"]),
        stand=st.sampled_from(["F", "Bb"]),
        compact=st.booleans(),
        grade=st.sampled_from([1, 2]),
        finish=st.sampled_from([0, 1, 4]),
        room=st.sampled_from(["", "Hall", "Cellar"]),
        held_by=st.sampled_from([None, None, 100, 101]),
        other_stands=st.sampled_from([(), ("F",), ("Bb",)]),
    )
    return st.lists(row, max_size=most).map(
        lambda rows: [
            replace(
                r,
                key=n,
                number=f"HN-{n}",
                other_stands=tuple(s for s in r.other_stands if s != r.stand and r.kind == "double"),
            )
            for n, r in enumerate(rows)
        ]
    )


def worth_by_hand(pupil: PupilRow, horn: HornRow, w: Weights, years: list[int]) -> float | None:
    """The points of one pair written out rule by rule, without the matrix; None where the pair may not be."""
    if pupil.needs_kind and pupil.needs_kind != horn.kind:
        return None
    in_tune = not pupil.stand or pupil.stand == horn.stand
    held = horn.compact or not pupil.needs_compact
    if (w.stand == MUST and not in_tune) or (w.wrap == MUST and not held):
        return None
    age = 0
    if pupil.year is not None and len(years) > 1:
        age = 7 * years.index(pupil.year) // (len(years) - 1)
    total = WHOLE * min(w.stand, 9) * in_tune
    if held:
        total += min(w.wrap, 9) * (WHOLE if pupil.needs_compact or not horn.compact else WHOLE * 3 // 4)
    total += 4 * w.better * age * horn.quality
    total += WHOLE * w.carry * (not pupil.room or pupil.room == horn.room)
    total += WHOLE * w.keep * (horn.held_by == pupil.key)
    return total


def best_by_hand(pupils: list[PupilRow], horns: list[HornRow], w: Weights) -> tuple[int, float]:
    """(pupils served, points) of the best way among all there are."""
    years = sorted({pupil.year for pupil in pupils if pupil.year is not None})
    spots: list[HornRow | None] = [*horns, *[None] * len(pupils)]
    best = (0, 0.0)
    for way in permutations(range(len(spots)), len(pupils)):
        given_out = [(p, spots[at]) for p, at in zip(pupils, way, strict=True)]
        worths = [worth_by_hand(p, h, w, years) for p, h in given_out if h is not None]
        if None not in worths:
            best = max(best, (len(worths), float(sum(worth for worth in worths if worth is not None))))
    return best


def by_kinds_and_by_pairs(do):
    with pytest.MonkeyPatch.context() as patch:
        for alike in (0, 1_000_000):
            patch.setattr(by_kinds, "MANY_ALIKE", alike)
            yield do()


@settings(max_examples=100, deadline=None)
@given(pupil_rows(9), horn_rows(12), weights)
def test_kinds_shared_out_serve_as_many_for_as_much_as_the_solver_of_pairs(pupils, horns, w):
    # The peer is scipy's linear_sum_assignment.
    could_be = [Remedy("mend", horn, 10 + 5 * (horn.key % 3)) for horn in horns[8:]]
    kinds, pairs = by_kinds_and_by_pairs(lambda: propose(pupils, horns[:8], w))
    assert len({pair.horn.key for pair in kinds.pairs}) == len(kinds.pairs) == len(pairs.pairs)
    assert kinds.total == pairs.total
    first, second = by_kinds_and_by_pairs(lambda: remedies(pairs, could_be))
    assert sum(step.remedy.price for step in first) == sum(step.remedy.price for step in second)


@settings(max_examples=150, deadline=None)
@given(pupil_rows(3), horn_rows(4), weights)
def test_no_way_of_handing_out_the_horns_is_better_than_the_proposal(pupils, horns, w):
    proposal = propose(pupils, horns, w)

    assert (len(proposal.pairs), proposal.total) == best_by_hand(pupils, horns, w)


@settings(max_examples=60, deadline=None)
@given(pupil_rows(6), horn_rows(6), weights, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_changes_nothing(pupils, horns, w, random):
    first = propose(pupils, horns, w)
    random.shuffle(pupils)
    random.shuffle(horns)

    assert propose(pupils, horns, w).pairs == first.pairs


@settings(max_examples=100, deadline=None)
@given(pupil_rows(6), horn_rows(6), weights)
def test_every_pupil_and_every_horn_is_accounted_for_once(pupils, horns, w):
    proposal = propose(pupils, horns, w)

    assert sorted(row.key for row in [*(p.pupil for p in proposal.pairs), *proposal.left]) == [p.key for p in pupils]
    assert sorted(row.key for row in [*(p.horn for p in proposal.pairs), *proposal.unused]) == [h.key for h in horns]
    assert set(whys(proposal, pupils)) == {pair.pupil.key for pair in proposal.pairs}


@settings(max_examples=100, deadline=None)
@given(pupil_rows(6), horn_rows(5), weights)
def test_a_shortage_proves_itself(pupils, horns, w):
    proposal = propose(pupils, horns, w)
    years = sorted({pupil.year for pupil in pupils if pupil.year is not None})
    said = shortages(proposal)
    for short in said:
        fitting = {h.key for p in short.pupils for h in horns if worth_by_hand(p, h, w, years) is not None}
        assert fitting == {horn.key for horn in short.horns}
        assert len(short.pupils) == len(short.horns) + len(short.left)
        assert {row.key for row in short.left} <= {row.key for row in short.pupils}
        assert why_left(proposal, short)
    assert sorted(row.key for short in said for row in short.left) == sorted(row.key for row in proposal.left)


def fixable(horns: list[HornRow]) -> list[Remedy]:
    """The last horn as one that could be mended."""
    return [Remedy("mend", replace(horns[-1], held_by=None), 45, "string broken")] if horns else []


@settings(max_examples=100, deadline=None)
@given(pupil_rows(5), horn_rows(4), weights)
def test_remedies_serve_everybody_and_none_of_them_could_be_spared(pupils, horns, w):
    could_be, there = fixable(horns), horns[:-1]
    proposal = propose(pupils, there, w)

    steps = remedies(proposal, could_be)

    done = [(step.remedy.horn.key, step.remedy.horn) for step in steps]
    as_is = [(horn.key, horn) for horn in there]
    assert propose(pupils, [*dict(as_is + done).values()], w).left == []
    for spared in range(len(done)):
        fewer = as_is + done[:spared] + done[spared + 1 :]
        assert propose(pupils, [*dict(fewer).values()], w).left
    served = {row for step in steps for row in step.serves}
    assert set(proposal.left) <= served
    assert all(len(step.serves) <= 1 for step in steps if step.remedy.kind in {"buy", "mend"})


@settings(max_examples=60, deadline=None)
@given(pupil_rows(3), horn_rows(3), weights)
def test_no_set_of_buying_and_restringing_is_cheaper(pupils, horns, w):
    """Every choice of stands for the horns that can be restrung, with buying for who is left."""
    proposal = propose(pupils, horns, w)
    price = sum(step.remedy.price for step in remedies(proposal, []))

    cheapest = None
    for choice in range(2 ** len(horns)):
        changed = [h for n, h in enumerate(horns) if choice >> n & 1 and h.other_stands]
        there = [replace(h, stand=h.other_stands[0]) if h in changed else h for h in horns]
        left = len(propose(pupils, there, w).left)
        cost = (WORK + RESTRING_MINUTES) * len(changed) + BUY * left
        cheapest = cost if cheapest is None else min(cheapest, cost)
    assert price == cheapest


def given_to(pupils, horns, w):
    return {pair.pupil.key: pair.horn.key for pair in propose(pupils, horns, w).pairs}


TWO = [PupilRow(1, "Ada"), PupilRow(2, "Ben")]
SHIFTS = {
    "keep": ([PupilRow(1, "Ada"), PupilRow(2, "Ben")], {"held_by": 2}, {"held_by": 1}),
    "stand": ([PupilRow(1, "Ada", stand="Bb"), PupilRow(2, "Ben", stand="F")], {"stand": "F"}, {"stand": "Bb"}),
    "wrap": ([PupilRow(1, "Ada", needs_compact=True), PupilRow(2, "Ben")], {}, {"compact": True}),
    "better": ([PupilRow(1, "Ada", year=8), PupilRow(2, "Ben", year=4)], {"grade": 2}, {"grade": 1}),
    "carry": (
        [PupilRow(1, "Ada", room="Hall"), PupilRow(2, "Ben", room="Cellar")],
        {"room": "Cellar"},
        {"room": "Hall"},
    ),
}


@pytest.mark.parametrize("rule", [rule.name for rule in RULES])
@pytest.mark.parametrize("level", [1, 3, 9])
@pytest.mark.parametrize("swapped", [False, True])
def test_each_rule_shifts_the_proposal_as_its_words_say(rule, level, swapped):
    """Ada belongs with the second horn by this rule alone, wherever that horn comes in the list."""
    pupils, first, second = SHIFTS[rule]
    numbers = ("HN-2", "HN-1") if swapped else ("HN-1", "HN-2")
    horns = [HornRow(10, numbers[0], **first), HornRow(20, numbers[1], **second)]

    assert given_to(pupils, horns, replace(NOTHING, **{rule: level})) == {1: 20, 2: 10}


def test_a_rule_that_does_not_matter_moves_nothing():
    for pupils, first, second in SHIFTS.values():
        horns = [HornRow(10, "HN-1", **first), HornRow(20, "HN-2", **second)]
        assert (points(pupils, horns, NOTHING).of(0, 0), points(pupils, horns, NOTHING).of(0, 1)) == (0, 0)


def test_a_rule_that_must_be_so_rather_leaves_a_pupil_without():
    ada = PupilRow(1, "Ada", stand="F", needs_compact=True)
    horn = HornRow(10, "HN-1", stand="Bb", compact=False)

    assert given_to([ada], [horn], Weights(stand=9, wrap=9)) == {1: 10}
    assert given_to([ada], [horn], Weights(stand=MUST, wrap=9)) == {}
    assert given_to([ada], [horn], Weights(stand=9, wrap=MUST)) == {}


def test_a_horn_more_always_counts_more_than_points():
    pupils = [PupilRow(1, "Ada", stand="F"), PupilRow(2, "Ben", needs_kind="double")]
    double = HornRow(10, "HN-1", kind="double", stand="F", held_by=1)
    single = HornRow(20, "HN-2", kind="single", stand="Bb")

    assert given_to(pupils, [double, single], Weights(stand=9)) == {1: 20, 2: 10}


def test_a_pair_fixed_by_hand_stays_and_the_rest_is_solved_around_it():
    pupils = [PupilRow(1, "Ada", stand="F"), PupilRow(2, "Ben", stand="F")]
    horns = [HornRow(10, "HN-1", stand="Bb"), HornRow(20, "HN-2", stand="F")]

    proposal = propose(pupils, horns, Weights(), fixed=[(1, 10), (1, 20), (9, 20)])

    assert [(p.pupil.key, p.horn.key, p.fixed) for p in proposal.pairs] == [(1, 10, True), (2, 20, False)]
    assert whys(proposal, pupils)[1] == ["Fixed by hand.", "Stands in B♭; the class plays in F."]


def test_a_weight_that_is_no_level_is_refused():
    with pytest.raises(ValueError, match="keep cannot weigh 2"):
        Weights(keep=2)
    with pytest.raises(ValueError, match="carry cannot weigh 99"):
        Weights(carry=MUST)


def test_who_stays_without_is_told_what_there_is_too_little_of():
    small = [PupilRow(n, f"Pupil {n}", needs_compact=True, stand="F") for n in (1, 2)]
    horns = [HornRow(10, "HN-1", compact=True, stand="F"), HornRow(20, "HN-2", stand="F")]
    double = PupilRow(3, "Zoe", needs_kind="double", stand="Bb")

    proposal = propose([*small, double], horns, Weights())

    assert {short.left[0].name: why_left(proposal, short) for short in shortages(proposal)} == {
        "Pupil 2": (
            "Pupil 1 and Pupil 2 need a compact horn that stands in F, and there is only HN-1. "
            "It is a tie who of them goes without."
        ),
        "Zoe": "None of the 2 horns is a double horn that stands in B♭.",
    }


def test_many_pupils_and_horns_are_counted_and_not_named():
    pupils = [PupilRow(n, f"Pupil {n}", needs_compact=n % 2 > 0) for n in range(8)]
    horns = [HornRow(10 + n, f"HN-{n}", compact=True) for n in range(7)]

    proposal = propose(pupils, horns, Weights())

    (short,) = shortages(proposal)
    assert why_left(proposal, short).startswith("8 pupils need a horn or a compact horn, and there are only 7 horns.")


def test_the_horn_to_buy_is_one_for_the_pupil_who_goes_without():
    holder = PupilRow(1, "Ben", stand="F")
    small = PupilRow(2, "Noor", needs_compact=True, stand="F")
    left = PupilRow(3, "Cormac", stand="F")
    horns = [HornRow(10, "HN-1", compact=True, held_by=1), HornRow(20, "HN-2", held_by=4)]

    proposal = propose([holder, small, left, PupilRow(4, "Elsa", stand="F")], horns, Weights())
    steps = remedies(proposal, [Remedy("mend", HornRow(30, "HN-3"), 35)])

    assert [(step.remedy.kind, step.remedy.horn.compact, [row.name for row in step.serves]) for step in steps] == [
        ("mend", False, ["Cormac"]),
        ("buy", True, ["Noor"]),
    ]


def test_ties_name_a_horn_that_would_do_as_well():
    horns = [HornRow(n, f"HN-{n}") for n in (1, 2, 3)]

    assert tied(propose([PupilRow(1, "Ada")], horns, Weights())) == {1: "HN-2"}
    assert tied(propose(TWO, horns[:2], Weights())) == {1: "HN-2", 2: "HN-1"}
    assert tied(propose(TWO, [replace(horns[0], held_by=1), horns[1]], Weights())) == {}


def test_the_cheapest_remedy_comes_first_and_says_whom_it_serves():
    pupils = [PupilRow(1, "Ada", stand="F"), PupilRow(2, "Ben", stand="F"), PupilRow(3, "Zoe", stand="Bb")]
    there = [HornRow(10, "HN-1", kind="double", stand="Bb", other_stands=("F",))]
    could_be = [
        Remedy("mend", HornRow(20, "HN-2", stand="F"), 45, "string broken"),
        Remedy("clean", HornRow(30, "HN-3", stand="Bb"), 5),
    ]
    proposal = propose(pupils, there, Weights())
    assert [row.name for row in proposal.left] == ["Ada", "Ben"]

    steps = remedies(proposal, could_be)

    assert [(step.remedy.kind, step.remedy.horn.number) for step in steps] == [
        ("clean", "HN-3"),
        ("restring", "HN-1"),
        ("mend", "HN-2"),
    ]
    assert [[row.name for row in step.serves] for step in steps] == [[], ["Ada"], ["Ben"]]


def test_what_cannot_be_mended_or_restrung_is_bought_as_it_is_needed():
    pupils = [PupilRow(1, "Ada", stand="F", needs_compact=True, needs_kind="single")]

    (step,) = remedies(propose(pupils, [HornRow(10, "HN-1", stand="F")], Weights()), [])

    wanted = HornRow(-1, "", kind="single", stand="F", compact=True, grade=1)
    assert (step.remedy.kind, step.remedy.horn) == ("buy", wanted)
    assert step.serves == (pupils[0],)


def test_nobody_and_nothing_make_an_empty_proposal():
    assert propose([], [HornRow(1, "HN-1")], Weights()).pairs == []
    empty = propose(TWO, [], Weights())
    assert empty.left == TWO
    assert [why_left(empty, short) for short in shortages(empty)] == ["There is no horn left to be lent."]
    assert tied(empty) == {}
