"""A recording is heard half by half too: what not both halves hold is never sure, what one shows clearly is found."""

import numpy as np
import pytest

from identify.core.hearing.halves import CLEAR, DOUBTED, FOUND, MOST_LEAD, Half, halves, weighed
from identify.core.hearing.listening import listen
from identify.core.hearing.spectrum import spectra
from tests.identify.core.hearing.test_wavering import RATE, tone
from tests.identify.tones import sound

HZ = 233.0


def cents(off):
    return HZ * 2 ** (off / 1200)


@pytest.mark.parametrize(
    ("whole", "heard", "trust"),
    [
        (0.99, [(cents(59.9), 0.9), (cents(-59.9), 0.9)], 0.99),
        (0.99, [(cents(61), 0.0), (HZ, 0.9)], DOUBTED),
        (0.99, [(cents(-61), 0.9, MOST_LEAD), (HZ, 0.9)], DOUBTED),
        (0.99, [(cents(61), 0.1, MOST_LEAD + 0.1), (HZ, 0.9)], 0.0),
        (0.99, [(cents(59.9), 0.1, MOST_LEAD + 0.1), (HZ, 0.9)], 0.99),
        (0.99, [(2 * HZ, 0.9, float("inf")), (HZ, 0.9)], 0.0),
        (0.1, [(cents(500), 0.0), (HZ, 0.99)], 0.1),
        (0.1, [(HZ, CLEAR), (HZ, 0.0)], FOUND),
        (0.1, [(HZ, CLEAR - 0.01), (HZ, 0.9)], 0.1),
        (0.1, [(HZ, CLEAR)], 0.1),
        (0.6, [(HZ, CLEAR), (HZ, 0.0)], 0.6),
        (0.7, [], 0.7),
    ],
)
def test_another_note_in_one_half_speaks_against_the_whole_and_the_same_in_both_for_it(whole, heard, trust):
    assert weighed(HZ, whole, [Half(*one) for one in heard]) == trust


@pytest.mark.parametrize(("seconds", "parts"), [(0.32, 2), (0.28, 0)])
def test_a_half_is_heard_from_fifteen_hundredths_of_a_second_on(seconds, parts):
    samples = tone(HZ, seconds=seconds).astype(np.float32)

    assert len(halves(samples, RATE, spectra(samples, RATE))) == parts


def test_the_halves_are_those_of_what_sounds_and_silence_is_none():
    silence = np.zeros(3 * RATE, dtype=np.float32)
    samples = np.concatenate([silence, tone(HZ, seconds=1.0).astype(np.float32)])
    before, after = halves(samples, RATE, spectra(samples, RATE))

    assert len(before) / RATE == pytest.approx(3.5, abs=0.1)
    assert len(after) / RATE == pytest.approx(0.5, abs=0.1)
    assert len(halves(silence, RATE, spectra(samples, RATE))) == 0


def joined(first, then, share):
    at = int(len(first) * share)
    return np.concatenate([first[:at], then[at:]])


@pytest.mark.parametrize(("then", "share"), [(500, 0.35), (700, 0.5), (1200, 0.5)])
def test_two_notes_in_turn_are_not_taken_for_one_that_is_held(then, share):
    assert listen(sound(joined(tone(HZ, seconds=1.6), tone(cents(then), seconds=1.6), share))).code == "moving"


@pytest.mark.parametrize(("share", "sure"), [(0.7, True), (0.6, False)])
def test_a_note_that_goes_on_an_octave_higher_is_never_sure(share, sure):
    assert listen(sound(joined(tone(HZ, seconds=1.6), tone(2 * HZ, seconds=1.6), share))).sure is sure


@pytest.mark.parametrize("level", [0.01, 0.1, 0.3])
def test_a_note_is_still_heard_when_only_noise_fills_the_other_half(level):
    noise = level * np.random.default_rng(3).standard_normal(int(1.6 * RATE))
    assert listen(sound(np.concatenate([tone(HZ, seconds=1.6), noise]))).hz == pytest.approx(HZ, rel=0.003)


def test_a_note_that_another_sounds_beside_at_first_is_heard_from_its_second_half():
    alone, other = tone(HZ, seconds=1.6), tone(cents(400), seconds=1.6)
    found = listen(sound(joined(alone + 0.8 * other, alone, 0.5)))

    assert found.hz == pytest.approx(HZ, rel=0.003)
    assert found.confidence == FOUND
