import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import expected, usual_answers
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess

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
                assert key in verdict.confirm, (key, answer)


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
