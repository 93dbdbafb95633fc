"""Hearing and the tube from open notes against published values."""

import numpy as np
import pytest

from identify.core.hearing.listening import listen
from identify.core.hearing.notes import Played
from identify.core.hearing.open_notes import find_tube
from identify.core.hearing.sounded import step_down, test_note
from tests.identify.tones import horn_tone, sound


def test_the_standard_tuning_note_is_a4():
    """ISO 16:1975: the note A in the treble stave is 440 Hz."""
    heard = listen(sound(horn_tone(440.0)))
    assert heard.note == "A4"
    assert heard.cents == pytest.approx(0, abs=0.5)


# Hermann Helmholtz, On the Sensations of Tone, tr. A. J. Ellis (1885), appendix XX: the French pitch of 1859 is A 435,
# the old Philharmonic pitch of 1874 is A 454.7. Cents against 440 computed. At that pitch B♭ lies nearer to our B than
# to our B♭, so it is not taken for the test note, and how far it is off is said.
@pytest.mark.parametrize(("a4", "cents", "is_it"), [(435.0, -19.8, True), (454.7, 56.9, False)])
def test_other_pitches_of_a4_are_as_far_off_as_they_are(a4, cents, is_it):
    bb3 = a4 * 2 ** (-11 / 12)
    heard = listen(sound(horn_tone(bb3)))
    assert 1200 * np.log2(heard.hz / (440 * 2 ** (-11 / 12))) == pytest.approx(cents, abs=0.7)
    assert test_note(heard).is_it is is_it


# Grove's Dictionary of Music and Musicians (5th edition, 1954, "Horn"): tube lengths of the F and B♭ horns 3.746 m and
# 2.807 m. Their ratio, not the lengths themselves, fixes the pitches.
def test_tubes_whose_lengths_stand_as_published_are_told_apart():
    bb, ratio = 58.270, 3.746 / 2.807
    assert find_tube([Played(bb * k) for k in (2, 3, 4, 5)]).tube == "Bb9"
    assert find_tube([Played(bb / ratio * k) for k in (3, 4, 5, 6)]).tube == "F12"


# Just intervals between neighbouring partials (Helmholtz, part II): octave 2:1, fifth 3:2, fourth 4:3, minor third 6:5.
@pytest.mark.parametrize(("upper", "lower", "semitones"), [(2, 1, 12), (3, 2, 7), (4, 3, 5), (6, 5, 3)])
def test_recorded_neighbouring_partials_are_named_by_their_intervals(upper, lower, semitones):
    high = listen(sound(horn_tone(233.08)))
    low = listen(sound(horn_tone(233.08 * lower / upper)))
    assert step_down(high, low).semitones == semitones
