"""Nobody knows how careful the person at hand is: what one answer says of the others."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.assumed import BAND, PERSONS
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.numbers import between
from identify.core.reasoning.scales import Scales, scales
from identify.core.reasoning.verdict import assess

pytestmark = pytest.mark.either_engine

EVERY = scales().hypotheses
DOUBLE, COMPENSATING = (
    next(place for place, one in enumerate(EVERY) if one.key == (code, "F"))
    for code in ("double-full", "double-compensating")
)
RIGHT = usual_answers(EVERY[DOUBLE])


def weighed(**answers):
    return scales().weighed(Observations(answers), scales().priors())[0]


def test_on_average_people_err_as_usual():
    times, shares = zip(*PERSONS, strict=True)
    assert sum(shares) == pytest.approx(1)
    assert sum(each * share for each, share in PERSONS) == pytest.approx(1)
    assert min(times) < 1 < max(times)


@pytest.mark.parametrize("key", CHECKS)
def test_one_answer_alone_weighs_as_usual(key):
    answer = RIGHT.get(key, CHECKS[key].answers[0])
    usual = scales().priors() * scales().chances_of(key, answer)
    assert weighed(**{key: answer}) == pytest.approx(usual / usual.sum())


def test_whoever_is_caught_at_a_mistake_is_less_to_be_relied_on_in_the_rest():
    seen = {key: RIGHT[key] for key in ("valves", "slide_sets", "test_note", "second_set", "hand")}
    caught = {**seen, "hand": "right"}

    def missed(weights):
        return weights[COMPENSATING] / weights[DOUBLE]

    assert missed(weighed(**caught)) > 1.2 * missed(weighed(**seen))


def test_where_mistakes_would_leave_nothing_for_the_right_answer_it_is_unlikely_and_not_impossible():
    on = Scales(catalogue(), dict.fromkeys(rates(), 0.3))
    chances = on.weighed(Observations(RIGHT), on.priors())[0]
    assert np.all(chances > 0)
    assert chances.sum() == pytest.approx(1)


def test_before_anything_is_observed_no_mistake_can_move_a_chance():
    for one in assess(Observations()).candidates:
        assert (one.least, one.most) == pytest.approx((one.probability, one.probability))


@given(
    st.fixed_dictionaries({}, optional={key: st.sampled_from(check.answers) for key, check in CHECKS.items()}),
    st.frozensets(st.sampled_from(list(CHECKS))),
)
def test_every_chance_lies_between_its_bounds(answers, again):
    for one in assess(Observations(answers, again=again & answers.keys())).candidates:
        assert one.least <= one.as_said + 1e-12
        assert one.as_said <= one.most + 1e-12


# Of each mistake by itself, half as often as is assumed and twice, what is then reckoned with those rates.
@pytest.mark.parametrize("name", ["lever_overlooked", "compact_taken_for_standard", "interval_misnamed"])
@pytest.mark.parametrize("times", [1 / BAND, BAND])
def test_who_knew_the_rates_would_say_no_chance_outside_the_bounds(name, times):
    on = Scales(catalogue(), rates() | {name: rates()[name] * times})
    for seen in ({"valves": "3", "test_note": "1"}, RIGHT, {**RIGHT, "step_down": "3"}, {**RIGHT, "wrap": "compact"}):
        known = {one.key: one.probability for one in assess(Observations(seen), on=on).candidates}
        for one in assess(Observations(seen)).candidates:
            if not one.states:
                assert one.least - 1e-9 <= known[one.key] <= one.most + 1e-9


@pytest.mark.parametrize(
    ("least", "most", "words"),
    [
        (0.7, 0.9, "70 to 90 %"),
        (0.796, 0.804, "80 %"),
        (0.6, 0.995, "at least 60 %"),
        (0.6, 0.9949, "60 to 99 %"),
        (0.009, 0.3, "at most 30 %"),
        (0.01, 0.3, "1 to 30 %"),
        (0.001, 0.009, "under 1 %"),
        (0.996, 0.999, "over 99 %"),
    ],
)
def test_a_chance_is_said_from_its_least_to_its_greatest(least, most, words):
    assert between(least, most) == words
