"""The test note and the step-down, from recorded notes."""

import pytest

from identify.core.hearing.notes import HeardNote
from identify.core.hearing.sounded import step_down, test_note
from identify.core.horns.pitch import midi_to_hz


def heard(hz, confidence=0.99):
    return HeardNote(hz, confidence)


NOTHING = HeardNote(None, 0.0, "silent", "Almost nothing was heard.")


@pytest.mark.parametrize("cents", [-49, -40, 0, 24, 48, 49])
def test_the_test_note_of_a_horn_tuned_flat_or_sharp_is_the_test_note(cents):
    said = test_note(heard(midi_to_hz(58 + cents / 100)))
    assert said.is_it is True
    assert said.cents == pytest.approx(cents)


@pytest.mark.parametrize(("cents", "words"), [(-55, "55 cents low"), (-51, "51 cents low"), (51, "51 cents high")])
def test_a_note_nearer_to_another_is_not_the_test_note_and_its_distance_is_said(cents, words):
    said = test_note(heard(midi_to_hz(58 + cents / 100)))
    assert said.is_it is False
    assert words in said.sentence
    assert "nearer to another note" in said.sentence


def test_a_lower_or_a_higher_note_is_named_with_what_to_do():
    low, high = test_note(heard(midi_to_hz(53))), test_note(heard(midi_to_hz(62)))
    assert low.is_it is high.is_it is False
    assert "F3 (written C4)" in low.sentence
    assert "aim higher" in low.sentence
    assert "aim lower" in high.sentence


def test_no_note_leaves_the_test_note_open_and_passes_the_reason_on():
    said = test_note(NOTHING)
    assert said.is_it is None
    assert said.sentence == "Almost nothing was heard."


# From B♭3 down to the next partial of each tube, by the table of test-note partials: 6:5, 4:3, 3:2, 2:1.
@pytest.mark.parametrize(("ratio", "semitones"), [(6 / 5, 3), (4 / 3, 5), (3 / 2, 7), (2 / 1, 12)])
@pytest.mark.parametrize("lip", [-25, 0, 25])
def test_the_step_down_is_named_though_lipped(ratio, semitones, lip):
    said = step_down(heard(233.08), heard(233.08 / ratio * 2 ** (lip / 1200)))
    assert said.semitones == semitones
    assert max(said.weights, key=said.weights.get) == semitones


def test_a_step_right_on_an_interval_is_surer_than_one_between_two():
    clear, unclear = step_down(heard(300), heard(225)), step_down(heard(300), heard(300 * 2 ** (-440 / 1200)))
    assert clear.confidence > 0.9 > unclear.confidence


@pytest.mark.parametrize(
    ("lower", "word"), [(233.0, "same note"), (300.0, "higher"), (100.0, "skipped"), (165.0, "no step")]
)
def test_what_is_no_step_down_is_said(lower, word):
    said = step_down(heard(233.08), heard(lower))
    assert said.semitones is None
    assert word in said.sentence


def test_a_note_that_was_not_heard_is_named():
    assert step_down(heard(233), NOTHING).sentence.startswith("The second note")
    assert step_down(NOTHING, heard(175)).sentence.startswith("The first note")


@pytest.mark.parametrize(
    ("cents", "a4", "is_it"), [(55, 440, False), (55, 442, True), (59, 442, False), (-45, 442, False)]
)
def test_how_far_the_test_note_may_be_off_is_counted_from_the_pitch_of_the_school(cents, a4, is_it):
    assert test_note(heard(midi_to_hz(58 + cents / 100)), a4).is_it is is_it
