from functools import cache
from io import StringIO
from random import Random

import pytest
from django.core.management import CommandError, call_command

from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.mistakes import rates
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import usual_next
from tests.bench.chance import short
from tests.bench.identifying import Command
from tests.bench.walks import BAND, INDEPENDENT, Bin, Judge, Staff, drawn, harsher, reliability, walks


# Asked by all tests here, so that no observations are judged twice; weighed where they run, not wherever they are read.
@cache
def judge() -> Judge:
    return Judge(scales())


@cache
def usual() -> Staff:
    return Staff(scales())


@pytest.fixture(scope="module")
def proposed():
    return walks(judge(), usual(), 500, seed=11)


@pytest.fixture(scope="module")
def fixed():
    return walks(judge(), usual(), 60, seed=11, order=CHECKS)


@cache
def erring(times):
    """The walks of staff who err so many times as often as assumed."""
    return walks(judge(), Staff(scales(), harsher(rates(), times)), 500, seed=11)


def test_settled_is_right_and_most_walks_settle(proposed):
    settled = [one for one in proposed if one.verdict.settled]
    assert len(settled) > 0.85 * len(proposed)
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_observers_really_err_in_these_walks(proposed):
    assert sum(one.slipped for one in proposed) > 0.05 * len(proposed)


def test_the_proposed_order_needs_fewer_checks_than_the_fixed_one(proposed, fixed):
    assert sum(one.checks for one in proposed) / 500 < sum(one.checks for one in fixed) / 60


def test_the_pages_order_needs_fewer_checks_than_the_fixed_one_and_is_right_too(fixed):
    led = walks(judge(), usual(), 500, seed=11, propose=usual_next)
    assert sum(one.checks for one in led) / 500 < sum(one.checks for one in fixed) / 60
    settled = [one for one in led if one.verdict.settled]
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_it_holds_when_staff_err_twice_as_often_as_assumed():
    settled = [one for one in erring(2.0) if one.verdict.settled]
    assert sum(one.right for one in settled) >= 0.975 * len(settled)


def test_settled_holds_where_staff_err_as_an_independent_estimate_has_it():
    staff = Staff(scales(), rates() | INDEPENDENT)
    ended = walks(judge(), staff, 750, seed=1)
    settled = [one for one in ended if one.verdict.settled]
    assert len(settled) >= 0.85 * len(ended)
    assert sum(one.right for one in settled) >= 0.99 * len(settled)


def test_a_drawn_member_of_staff_errs_within_the_band_in_everything():
    low, high = BAND
    theirs = drawn(rates(), Random(3))
    assert set(theirs) == set(rates())
    assert all(low * rate <= theirs[name] <= high * rate for name, rate in rates().items())
    assert theirs != drawn(rates(), Random(4))


# Bins wide enough for a few hundred walks, told apart by what chance alone does to a share.
@pytest.mark.parametrize("times", [0.5, 1.0, 2.0])
def test_chances_lie_between_their_bounds_whoever_errs_half_as_often_or_twice(times):
    for one in reliability(erring(times), (0.0, 0.1, 0.9, 1.0)):
        assert one.least < one.said < one.most
        assert one.holds


# Lower tails of the binomial distribution: 17 of 50 where 30 are meant 0.0002, 20 of 50 0.003. 10 of 10 are no wonder
# where 9 are meant at most, 1,000 of 1,000 are.
@pytest.mark.parametrize(
    ("true", "many", "holds"), [(20, 50, True), (17, 50, False), (10, 10, True), (1000, 1000, False)]
)
def test_a_bin_holds_where_what_was_true_lies_as_near_to_its_bounds_as_chance_has_it(true, many, holds):
    assert Bin(0.7, 0.9, many, least=0.6, said=0.8, most=0.9, true=true / many).holds == holds


# 0.99 to the power of 687 is 0.001003, of 688 0.000993; worked out by hand.
def test_an_aim_is_missed_where_chance_alone_would_hardly_have_it_so():
    assert not short(0, 687, 0.01)
    assert short(0, 688, 0.01)
    assert not short(300, 300, 0.99)
    assert not short(0, 0, 0.99)


def test_a_candidate_is_counted_by_the_chance_it_was_said_with(proposed):
    edges = (0.0, 0.5, 1.0)
    low, high = reliability(proposed, edges)
    assert low.many + high.many == sum(len(one.verdict.candidates) for one in proposed)
    said = [each.as_said for one in proposed for each in one.verdict.candidates if each.as_said >= 0.5]
    assert high.many == len(said)
    assert high.said == pytest.approx(sum(said) / len(said))


def test_the_same_seed_gives_the_same_walks(proposed):
    again = walks(judge(), usual(), 500, seed=11)
    assert [(one.truth, one.checks) for one in again] == [(one.truth, one.checks) for one in proposed]


def test_a_brier_score_of_a_sure_and_right_verdict_is_almost_nothing(proposed):
    sure = next(one for one in proposed if one.right and one.verdict.leading.probability > 0.99)
    assert 0 <= sure.brier < 0.001


def test_the_benchmark_refuses_too_few_walks():
    with pytest.raises(CommandError, match="at least 100"):
        call_command(Command(), "--walks=3", stdout=StringIO())


@pytest.mark.parametrize("unlike", [0.2, 0.4])
def test_a_horn_like_the_one_before_settles_by_half_the_checks_and_right_even_where_twice_as_many_are_none(unlike):
    alike = walks(judge(), usual(), 500, seed=2, like="double-full", unlike=unlike, propose=usual_next)
    settled = [one for one in alike if one.verdict.settled]
    assert len(settled) > 0.85 * len(alike)
    assert sum(one.right for one in settled) >= 0.98 * len(settled)
    assert sum(one.checks for one in alike) < 5.5 * len(alike)
