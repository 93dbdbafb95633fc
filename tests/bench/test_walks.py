from io import StringIO
from random import Random

import pytest
from django.core.management import CommandError, call_command

from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import usual_next
from tests.bench.identifying import Command
from tests.bench.walks import BAND, INDEPENDENT, Judge, Staff, drawn, harsher, reliability, walks

# Asked by all tests here, so that no observations are judged twice.
JUDGE = Judge(scales())
USUAL = Staff(scales())


@pytest.fixture(scope="module")
def proposed():
    return walks(JUDGE, USUAL, 500, seed=11)


def test_settled_is_right_and_most_walks_settle(proposed):
    settled = [one for one in proposed if one.verdict.settled]
    assert len(settled) > 0.85 * len(proposed)
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_observers_really_err_in_these_walks(proposed):
    assert sum(one.slipped for one in proposed) > 0.05 * len(proposed)


def test_the_proposed_order_needs_fewer_checks_than_the_fixed_one(proposed):
    fixed = walks(JUDGE, USUAL, 200, seed=11, order=CHECKS)
    assert sum(one.checks for one in proposed) / 500 < sum(one.checks for one in fixed) / 200


def test_the_pages_order_needs_fewer_checks_than_the_fixed_one_and_is_right_too():
    led = walks(JUDGE, USUAL, 500, seed=11, propose=usual_next)
    fixed = walks(JUDGE, USUAL, 200, seed=11, order=CHECKS)
    assert sum(one.checks for one in led) / 500 < sum(one.checks for one in fixed) / 200
    settled = [one for one in led if one.verdict.settled]
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_it_holds_when_staff_err_twice_as_often_as_assumed():
    staff = Staff(scales(), harsher(rates(), 2.0))
    ended = walks(JUDGE, staff, 500, seed=5)
    settled = [one for one in ended if one.verdict.settled]
    assert sum(one.right for one in settled) >= 0.975 * len(settled)


def test_settled_holds_where_staff_err_as_an_independent_estimate_has_it():
    staff = Staff(scales(), rates() | INDEPENDENT)
    ended = walks(JUDGE, staff, 1500, seed=1)
    settled = [one for one in ended if one.verdict.settled]
    assert len(settled) >= 0.85 * len(ended)
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_a_drawn_member_of_staff_errs_within_the_band_in_everything():
    low, high = BAND
    theirs = drawn(rates(), Random(3))
    assert set(theirs) == set(rates())
    assert all(low * rate <= theirs[name] <= high * rate for name, rate in rates().items())
    assert theirs != drawn(rates(), Random(4))


def test_chances_come_true_as_often_as_they_say(proposed):
    for _low, _high, many, mean, share in reliability(proposed, (0.0, 0.1, 0.9, 1.0)):
        assert share == pytest.approx(mean, abs=3 * (mean * (1 - mean) / many) ** 0.5 + 0.01)


def test_the_same_seed_gives_the_same_walks(proposed):
    again = walks(JUDGE, USUAL, 500, seed=11)
    assert [(one.truth, one.checks) for one in again] == [(one.truth, one.checks) for one in proposed]


def test_a_brier_score_of_a_sure_and_right_verdict_is_almost_nothing(proposed):
    sure = next(one for one in proposed if one.right and one.verdict.leading.probability > 0.99)
    assert 0 <= sure.brier < 0.001


def test_the_benchmark_refuses_too_few_walks():
    with pytest.raises(CommandError, match="at least 100"):
        call_command(Command(), "--walks=3", stdout=StringIO())


@pytest.mark.parametrize("unlike", [0.2, 0.4])
def test_a_horn_like_the_one_before_settles_by_half_the_checks_and_right_even_where_twice_as_many_are_none(unlike):
    alike = walks(JUDGE, USUAL, 300, seed=2, like="double-full", unlike=unlike, propose=usual_next)
    settled = [one for one in alike if one.verdict.settled]
    assert len(settled) > 0.85 * len(alike)
    assert sum(one.right for one in settled) >= 0.98 * len(settled)
    assert sum(one.checks for one in alike) < 5.5 * len(alike)
