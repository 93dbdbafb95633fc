"""Note names and transpositions against music21, an independent library for music notation."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify.core.horns.pitch import PART_KEYS, Note, name_of, sounding

music21 = pytest.importorskip("music21")

notes = st.builds(
    Note,
    st.sampled_from("CDEFGAB"),
    st.integers(min_value=-1, max_value=1),
    st.integers(min_value=1, max_value=7),
)


def theirs(note):
    return music21.pitch.Pitch(note.name.replace("b", "-"))


@given(notes)
def test_names_mean_the_same_pitch(note):
    assert theirs(note).midi == note.midi
    assert theirs(note).frequency == pytest.approx(note.hz)


@given(st.integers(min_value=21, max_value=108))
def test_a_midi_number_has_the_same_frequency(midi):
    assert music21.pitch.Pitch(midi=midi).frequency == pytest.approx(name_of(midi).hz)


def test_the_transposition_of_a_horn_part_is_theirs():
    interval = music21.instrument.Horn().transposition
    assert interval.semitones == PART_KEYS["F"].semitones == -7
    assert interval.diatonic.generic.staffDistance == PART_KEYS["F"].steps == -4


@given(notes)
@settings(max_examples=60)
def test_written_notes_sound_as_theirs_black_keys_spelled_alike(note):
    heard = theirs(note).transpose(music21.instrument.Horn().transposition)
    mine = sounding(note)
    assert heard.midi == mine.midi
    spelled = heard.nameWithOctave.replace("-", "b")
    # They write a white key as E♯ or B𝄫 where the interval asks for it; on a chart it keeps its own name.
    assert mine.name == (spelled if abs(heard.alter) < 2 and name_of(heard.midi).alter else name_of(heard.midi).name)


@pytest.mark.parametrize(
    ("part", "interval"),
    [
        ("Bb", "M-2"),
        ("Bb low", "M-9"),
        ("A", "m-3"),
        ("G", "P-4"),
        ("E", "m-6"),
        ("Eb", "M-6"),
        ("D", "m-7"),
        ("C low", "P-8"),
    ],
)
def test_the_other_part_keys_are_intervals_they_know(part, interval):
    theirs_down = music21.interval.Interval(interval)
    assert theirs_down.semitones == PART_KEYS[part].semitones
    assert theirs_down.diatonic.generic.staffDistance == PART_KEYS[part].steps
