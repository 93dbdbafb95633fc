"""How a held note went: the words beside the picture, and the line in it."""

import pytest

from identify.core.hearing.notes import HeardNote
from identify.tuning import how_tuned, tuning

B_FLAT = 233.08  # B♭3 in Hz, from A4 = 440 Hz


@pytest.mark.parametrize(
    ("cents", "words"),
    [
        (0, "in tune"),
        (10, "in tune"),
        (-10, "in tune"),
        (11, "11 cents high"),
        (-11, "11 cents low"),
        (30.4, "30 cents high"),
        (-99, "99 cents low"),
        (-100, "1 semitone too low"),
        (204, "2 semitones too high"),
        (-255, "2.5 semitones too low"),
    ],
)
def test_up_to_ten_cents_a_note_is_in_tune_and_beyond_it_is_high_or_low(cents, words):
    assert how_tuned(cents) == words


@pytest.mark.parametrize(
    ("cents", "course", "points"),
    [
        (0, (), "0.0,48.0"),
        (15, (), "0.0,36.0"),
        (0, (-30, 0, 30), "0.0,72.0 120.0,48.0 240.0,24.0"),
        (60, (-120, 0), "0.0,96.0 240.0,0.0"),
        (70, (-140, 0), "0.0,96.0 240.0,0.0"),
    ],
)
def test_the_line_goes_from_edge_to_edge_and_stays_in_the_picture(cents, course, points):
    told = tuning(HeardNote(B_FLAT, 1, cents=cents, course=course))

    assert told is not None
    assert told.points == points
    assert (told.name, told.y) == ("B♭3 (written F4)", 48 - 48 * min(cents, 60) / 60)


def test_where_no_note_was_heard_there_is_no_picture():
    assert tuning(HeardNote(None, 0, "silent", "Nothing was heard.")) is None


@pytest.mark.parametrize(
    ("hz", "cents", "words", "height"),
    [
        (261.63, 0, "2 semitones too high", 0.0),  # C4
        (225.79, 45, "55 cents low", 92.0),  # A3 and 45 cents
        (B_FLAT, 0, "in tune", 48.0),
        (116.54, 0, "12 semitones too low", 96.0),  # B♭2
    ],
)
def test_where_a_note_was_asked_for_the_distance_to_that_one_is_shown(hz, cents, words, height):
    told = tuning(HeardNote(hz, 1, cents=cents), 58)

    assert told is not None
    assert (told.name, told.words) == ("B♭3 (written F4)", words)
    assert told.y == pytest.approx(height, abs=0.1)


@pytest.mark.parametrize(("a4", "words"), [(440, "15 cents high"), (442, "in tune")])
def test_a_note_is_measured_against_what_the_school_tunes_to(a4, words):
    hz = B_FLAT * 2 ** (15 / 1200)

    assert tuning(HeardNote(hz, 1, cents=15), 58, a4).words == words


@pytest.mark.parametrize(("a4", "name"), [(440, "B3"), (442, "B♭3")])
def test_a_note_between_two_is_nearest_to_another_where_the_school_tunes_higher(a4, name):
    hz = B_FLAT * 2 ** (54 / 1200)

    told = tuning(HeardNote(hz, 1, cents=-46), None, a4)

    assert told.name.startswith(name)
    assert told.words == ("46 cents low" if a4 == 440 else "46 cents high")
