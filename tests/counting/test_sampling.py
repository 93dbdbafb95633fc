"""The arithmetic of samples, against tables and against scipy."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from fleet.counting.queries.sampling import Estimate, deviate, drawn, sample_size, wilson


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        # R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (score, without correction).
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilsons_interval_is_the_published_one(hits, of, low, high):
    assert wilson(hits, of, confidence=0.95) == pytest.approx((low, high), abs=5e-5)


@given(
    some.integers(1, 2000).flatmap(lambda of: some.tuples(some.integers(0, of), some.just(of))),
    some.sampled_from([0.9, 0.95, 0.99]),
)
@settings(max_examples=200, deadline=None)
def test_wilsons_interval_is_scipys(hits_of, confidence):
    from scipy.stats import binomtest

    hits, of = hits_of
    theirs = binomtest(hits, of).proportion_ci(confidence, method="wilson")

    assert wilson(hits, of, confidence=confidence) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def test_the_usual_deviates():
    # Tables of the normal distribution, two-sided 90, 95 and 99 per cent.
    assert [round(deviate(c), 4) for c in (0.9, 0.95, 0.99)] == [1.6449, 1.96, 2.5758]


@pytest.mark.parametrize(
    ("population", "confidence", "margin", "size"),
    [
        # Worked by hand: 1.96^2 * 0.25 / 0.05^2 = 384.15; endless, so 385, as every table of sample sizes has it.
        (10**9, 0.95, 0.05, 385),
        # 384.15 / (1 + 383.15 / 1000) = 277.7
        (1000, 0.95, 0.05, 278),
        # 96.04 / (1 + 95.04 / 200) = 65.1
        (200, 0.95, 0.10, 66),
        (3, 0.95, 0.05, 3),
        (1, 0.99, 0.05, 1),
        (0, 0.95, 0.05, 0),
    ],
)
def test_a_sample_is_as_large_as_the_margin_asks(population, confidence, margin, size):
    assert sample_size(population, confidence=confidence, margin=margin) == size


@given(some.sets(some.integers(1, 10**9), max_size=60), some.integers(0, 2**31))
def test_a_drawing_is_the_same_for_the_same_seed_whatever_the_order(keys, seed):
    size = len(keys) // 2
    chosen = drawn(sorted(keys), size, seed)

    assert chosen == drawn(sorted(keys, reverse=True), size, seed)
    assert len(set(chosen)) == size
    assert set(chosen) <= keys


def test_every_horn_is_drawn_about_as_often():
    # 4,000 drawings of 5 from 20: each is expected 1,000 times, with a standard deviation of about 27.
    often = dict.fromkeys(range(20), 0)
    for seed in range(4000):
        for key in drawn(range(20), 5, seed):
            often[key] += 1

    assert all(880 < n < 1120 for n in often.values()), often


def test_an_estimate_says_share_interval_and_horns():
    said = Estimate(hits=63, looked_at=66, population=200, confidence=0.95)

    # scipy 1.17: binomtest(63, 66).proportion_ci(0.95, "wilson") = (0.8747, 0.9844)
    assert said.interval == pytest.approx((0.8747, 0.9844), abs=5e-5)
    assert said.horns == (175, 196)
    assert "95% confidence the share of all 200 lies between 87.5% and 98.4%, that is 175 to 196 horns" in said.sentence
    assert "Wilson" in said.note


def test_a_sample_of_everything_is_no_estimate():
    said = Estimate(hits=4, looked_at=5, population=5, confidence=0.95)

    assert (said.interval, said.horns, said.note) == ((0.8, 0.8), (4, 4), "")
    assert "this is no estimate" in said.sentence


@given(
    some.integers(1, 300)
    .flatmap(lambda n: some.tuples(some.just(n), some.integers(1, n)))
    .flatmap(lambda two: some.tuples(some.just(two[0]), some.just(two[1]), some.integers(0, two[1])))
)
def test_the_horns_of_an_estimate_allow_for_what_was_seen(numbers):
    population, looked_at, hits = numbers
    fewest, most = Estimate(hits, looked_at, population, 0.95).horns

    assert hits <= fewest <= most <= population - (looked_at - hits)


@pytest.mark.parametrize("wrong", [{"hits": 5, "of": 4}, {"hits": -1, "of": 4}, {"hits": 0, "of": 0}])
def test_an_impossible_share_is_refused(wrong):
    with pytest.raises(ValueError, match="between none and all"):
        wilson(**wrong, confidence=0.95)
