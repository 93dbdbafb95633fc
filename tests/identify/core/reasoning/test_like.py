"""A horn that is said to be like the one before: a bounded leaning beforehand, never an answer."""

from functools import lru_cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning import explain
from identify.core.reasoning.assumed import SAME_ANSWERS
from identify.core.reasoning.evidence import CHECKS, Observations, read_observations
from identify.core.reasoning.expect import overlap, usual_answers
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess, usual_next
from tests.identify.core.reasoning.test_broken import of

WHOLE = scales().hypotheses


def share_of(code, priors):
    return sum(share for one, share in zip(scales().every, priors, strict=True) if one.build.code == code)


def test_of_ten_horns_said_to_be_alike_two_are_taken_for_any_kind_beforehand():
    on = scales()
    priors = on.priors()
    leaning = on.likened(priors, "double-full")
    assert leaning.sum() == pytest.approx(1)
    assert rates()["likeness_misjudged"] == 0.2
    assert share_of("double-full", leaning) == pytest.approx(0.8 + 0.2 * share_of("double-full", priors))
    assert share_of("single-f", leaning) == pytest.approx(0.2 * share_of("single-f", priors))


@pytest.mark.parametrize("code", catalogue())
def test_no_kind_grows_more_than_fifty_times_likelier_besides(code):
    on = scales()
    priors = on.priors()
    leaning = on.likened(priors, code)
    mine = share_of(code, leaning) / share_of(code, priors)
    others = (1 - share_of(code, leaning)) / (1 - share_of(code, priors))
    rare = share_of(code, priors) < 0.08
    assert mine / others == pytest.approx(51) if rare else 1 < mine / others < 51


def test_how_the_horn_before_stood_is_no_part_of_it():
    on = scales()
    leaning = on.likened(on.priors(), "double-full")
    stands = {
        name: sum(share for one, share in zip(on.every, leaning, strict=True) if one.key == ("double-full", name))
        for name in ("F", "Bb")
    }
    assert stands["F"] / stands["Bb"] == pytest.approx(0.8 / 0.2)


@pytest.mark.parametrize("code", catalogue())
def test_what_it_is_like_settles_nothing_alone_nor_with_one_answer(code):
    nothing = assess(Observations(like=code))
    assert nothing.nothing_observed
    assert not nothing.settled
    one = next(one for one in WHOLE if one.build.code == code)
    for key, answer in usual_answers(one).items():
        assert not assess(Observations({key: answer}, like=code)).settled


@given(st.sampled_from(list(catalogue())), st.sampled_from(WHOLE))
def test_a_horn_that_is_said_to_be_like_another_kind_is_not_settled_as_that(code, one):
    verdict = assess(Observations(usual_answers(one), like=code))
    assert verdict.leading.key == one.key or not verdict.settled


def test_a_horn_like_the_one_before_is_asked_for_its_test_note_and_then_for_what_tells_most():
    seen = Observations(like="double-full")
    assert usual_next(assess(seen)) == "test_note"
    seen = seen.with_answer("test_note", "1")
    verdict = assess(seen)
    assert usual_next(verdict) == "second_set" == max(verdict.gains, key=lambda key: verdict.gains[key])
    seen = seen.with_answer("second_set", "longer")
    assert usual_next(assess(seen)) == "length"
    seen = seen.with_answer("length", "38-42")
    assert assess(seen).settled
    assert usual_next(assess(seen)) is None


@lru_cache(maxsize=20_000)
def judged(answers, passed, like):
    return assess(Observations(dict(answers), passed, like=like))


def led(right, like):
    """The verdict at the end of a walk as the pages lead it, every answer right; what has none is passed over."""
    answers, passed = {}, frozenset()
    while key := usual_next(judged(tuple(answers.items()), passed, like)):
        if key in right:
            answers[key] = right[key]
        else:
            passed |= {key}
    return judged(tuple(answers.items()), passed, like)


# Whoever says that it is like the one before is wrong in this; no other answer is.
@pytest.mark.parametrize("like", [code for code, build in catalogue().items() if build.prior >= 40])
def test_a_horn_of_any_other_kind_is_not_settled_as_the_one_before_without_the_check_that_tells_being_named(like):
    for one in WHOLE:
        verdict = led(usual_answers(one), like)
        if verdict.settled and verdict.leading.key != one.key:
            telling = {key for key in CHECKS if overlap(one, verdict.leading.form, key) < SAME_ANSWERS}
            assert telling & {*verdict.alike, *verdict.confirm}, one.key


@pytest.mark.parametrize(
    ("one", "check"), [("double-full-stopping", "valves"), ("triple-full", "valves"), ("vienna-double", "mechanism")]
)
def test_three_checks_settle_a_double_like_the_one_before_and_name_what_would_show_a_rarer_one(one, check):
    rarer = next(each for each in WHOLE if each.key == (one, "F"))
    verdict = led(usual_answers(rarer), "double-full")
    assert (verdict.settled, verdict.leading.key) == (True, ("double-full", "F"))
    assert check in verdict.alike
    assert assess(Observations(verdict.observations.answers)).alike == ()


def test_who_cannot_tell_the_test_note_is_asked_for_something_else():
    seen = Observations(passed=frozenset({"test_note"}), like="double-full")
    assert usual_next(assess(seen)) not in ("test_note", None)


def test_what_it_is_like_goes_along_with_every_answer_and_every_second_look():
    seen = Observations({"valves": "4"}, like="double-full")
    for one in (seen.with_answer("hand", "left"), seen.looked_again("valves", "4"), seen.without(["valves"])):
        assert one.like == "double-full"


@pytest.mark.parametrize(("text", "like"), [("double-full", "double-full"), ("kazoo", ""), ("", ""), (None, "")])
def test_a_kind_that_nobody_knows_is_left_out(text, like):
    seen, problems = read_observations({"valves": "4", "like": text})
    assert (seen.like, problems) == (like, {})


def test_what_it_is_said_to_be_like_is_told_with_how_far_that_counts():
    words = explain.likeness(Observations(like="double-full"))
    assert words.startswith("Said to be like the one before, a full double horn in F and B♭.")
    assert words.endswith("only what is looked at on this one can settle it.")
    assert explain.likeness(Observations()) == ""


def test_a_broken_horn_of_the_same_kind_is_found_broken():
    off = usual_answers(of("double-full", "F", "thumb-off"))
    seen = Observations(off, again=frozenset(off), like="double-full")
    assert [state.code for state in assess(seen).leading.states] == ["thumb-off"]
    assert set(off) <= set(CHECKS)
