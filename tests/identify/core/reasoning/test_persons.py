"""Nobody knows how careful the person at hand is: what one answer says of the others."""

import numpy as np
import pytest

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.scales import PERSONS, Scales, scales

pytestmark = pytest.mark.either_engine

EVERY = scales().hypotheses
DOUBLE, COMPENSATING = (
    next(place for place, one in enumerate(EVERY) if one.key == (code, "F"))
    for code in ("double-full", "double-compensating")
)
RIGHT = usual_answers(EVERY[DOUBLE])


def weighed(**answers):
    return scales().posterior(Observations(answers), scales().priors())


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
    chances = on.posterior(Observations(RIGHT), on.priors())
    assert np.all(chances > 0)
    assert chances.sum() == pytest.approx(1)
