"""A note in the numbers that an oscillator needs."""

import pytest

from identify.core.horns.pitch import midi_to_hz
from identify.core.horns.tone import cents_a_degree, tone


@pytest.mark.parametrize(("a4", "hz"), [(440, 233.082), (442, 234.141)])
def test_the_test_note_sounds_at_the_pitch_the_school_tunes_to(a4, hz):
    assert tone(58, a4).hz == pytest.approx(hz, abs=0.001)


@pytest.mark.parametrize(("midi", "strongest"), [(65, 1), (60, 1), (53, 2), (46, 3)])
def test_the_partial_nearest_to_the_formant_of_a_horn_is_the_strongest(midi, strongest):
    partials = tone(midi).partials

    assert partials.index(max(partials)) + 1 == strongest
    assert max(partials) == 1


def test_overtones_above_the_formant_fall_by_ten_decibels_an_octave_and_below_it_by_four():
    low, high = tone(46).partials, tone(65).partials

    assert high[3] / high[1] == pytest.approx(10 ** (-10 / 20), rel=1e-6)
    assert low[0] / low[1] == pytest.approx(10 ** (-4 / 20), rel=1e-6)


@pytest.mark.parametrize("midi", [41, 58, 72, 84])
def test_nothing_is_played_that_is_too_faint_or_too_high_to_be_heard(midi):
    partials = tone(midi).partials

    assert min(partials) >= 0.01
    assert len(partials) * midi_to_hz(midi) <= 5_000
    assert len(partials) >= 4


def test_a_warmer_horn_sounds_about_three_cents_a_degree_higher():
    assert cents_a_degree(20) == pytest.approx(2.95, abs=0.01)
    assert cents_a_degree(0) > cents_a_degree(20)
