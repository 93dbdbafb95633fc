from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import expected, usual_answers
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess, usual_next
from tests.identify.core.reasoning.test_broken import of

EVERY = scales().hypotheses
answers = st.fixed_dictionaries({}, optional={key: st.sampled_from(check.answers) for key, check in CHECKS.items()})


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_a_single_mistake_that_settles_another_horn_is_named_for_a_second_look(one):
    right, place = usual_answers(one), EVERY.index(one)
    for key in right:
        note = right["test_note"]
        for answer in CHECKS[key].answers:
            if scales().chances_of(key, answer, note)[place] < 0.004 or answer in expected(one, key, note):
                continue
            verdict = assess(Observations({**right, key: answer}))
            if verdict.settled and verdict.leading.key != one.key:
                assert key in (*verdict.confirm, *verdict.rests_on), (key, answer)


@lru_cache(maxsize=20_000)
def judged(*seen):
    answers, passed, like = seen
    return assess(Observations(dict(answers), passed, like=like))


def led(right, like=""):
    """The verdict at the end of a walk as the pages lead it, with these answers; what has none is passed over."""
    seen = Observations(like=like)
    while (key := usual_next(judged(tuple(seen.answers.items()), seen.passed, like))) is not None:
        seen = seen.with_answer(key, right[key]) if key in right else replace(seen, passed=seen.passed | {key})
    return judged(tuple(seen.answers.items()), seen.passed, like)


# Those of which a shelf has several, which may be said to be like the one before.
SEVERAL = [one for one in EVERY if one.build.prior * one.weight >= 40]


@pytest.mark.parametrize(
    ("one", "like"),
    [(one, "") for one in EVERY] + [(one, one.build.code) for one in SEVERAL],
    ids=lambda one: one if isinstance(one, str) else f"{one.key[0]}-{one.key[1]}-{one.build.form}",
)
def test_no_single_wrong_answer_settles_a_walk_wrongly_without_its_check_being_named(one, like):
    right, place = usual_answers(one), EVERY.index(one)
    for key in right:
        note = right["test_note"]
        for answer in CHECKS[key].answers:
            if scales().chances_of(key, answer, note)[place] < 0.004 or answer in expected(one, key, note):
                continue
            verdict = led({**right, key: answer}, like)
            if verdict.settled and verdict.leading.key != one.key:
                assert key in (*verdict.confirm, *verdict.rests_on), (key, answer)


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_nothing_that_was_looked_at_twice_is_what_a_verdict_rests_on(one):
    right = usual_answers(one)
    verdict = assess(Observations(right, again=frozenset(right)))
    assert (verdict.settled, verdict.rests_on) == (True, ())


# A double whose first valve is strung the wrong way sounds a tone low on either side, and 1 brings it up again: its
# test notes are those of one that stands the other way.
@pytest.mark.parametrize("code", ["double-full", "double-compensating"])
def test_a_first_valve_strung_the_wrong_way_is_asked_for_before_a_double_is_settled_as_standing_in_b_flat(code):
    verdict = led(usual_answers(of(code, "F", "valve-reversed-1")))
    assert not (verdict.settled and verdict.leading.key == (code, "Bb"))
    assert {"thumb", "each_finger", "step_down"} & set(verdict.observations.answers)


VALVES_DOWN = [one for one in scales().every if one.state and one.state.kind in ("valve-down", "valve-reversed")]


def test_no_valve_that_is_down_at_rest_settles_another_horn_without_the_check_that_shows_it_being_named():
    for one in VALVES_DOWN:
        verdict = led(usual_answers(one))
        if verdict.settled and verdict.leading.key != one.key:
            assert verdict.unasked in ("each_finger", "thumb", "step_down"), (one.key, one.state.code)


# A bass Wagner tuba may be a tenor with its fourth valve stuck down.
BASS = {
    "valves": "4",
    "hand": "left",
    "bell": "up",
    "wrap": "oval",
    "mechanism": "rotary",
    "test_note": "1",
    "step_down": "3",
}


@pytest.mark.parametrize(("times", "coming"), [(0.99, "each_finger"), (1.01, None)])
def test_a_fault_that_would_answer_alike_is_asked_for_from_a_chance_on(monkeypatch, times, coming):
    on, seen = scales(), Observations({**BASS, "slide_sets": "1"})
    alike = [place for place, one in enumerate(on.every) if one.key[0] == "wagner-tenor-bb" and one.state]
    chances, slips = on.weighed(seen, on.priors())[0], on.slips(seen)
    chance = max(chances[place] for place in alike if not slips[place])
    monkeypatch.setattr("identify.core.reasoning.verdict.WORTH_NAMING", chance * times)
    verdict = assess(seen)
    assert (verdict.next_check, verdict.settled) == (coming, coming is None)
    assert verdict.unasked == (None if coming else "each_finger")


@pytest.mark.parametrize(
    ("key", "answer"), [(key, answer) for key, check in CHECKS.items() for answer in check.answers]
)
def test_nothing_is_settled_by_one_answer(key, answer):
    verdict = assess(Observations({key: answer}))
    assert not verdict.settled
    assert verdict.next_check not in (None, key)
    rest = frozenset(CHECKS) - {key}
    assert not assess(Observations({key: answer}, rest)).settled


def test_what_waits_for_a_second_look_only_is_likely_and_not_settled():
    right = usual_answers(next(one for one in EVERY if one.key == ("double-full", "F")))
    seen = Observations({**right, "shared_row": "?"}, frozenset({"shared_row"}))
    waiting = assess(seen)
    assert (waiting.likely, waiting.settled) == (True, False)
    assert (waiting.next_check, waiting.confirm) == (None, ("second_set",))
    looked = assess(seen.looked_again("second_set", "longer"))
    assert (looked.likely, looked.settled) == (False, True)


@given(answers)
def test_likely_and_settled_exclude_each_other(seen):
    verdict = assess(Observations(seen))
    assert not (verdict.likely and verdict.settled)
    if verdict.likely:
        assert verdict.leading.probability >= 0.92
        assert verdict.fits
        assert verdict.next_check is None
