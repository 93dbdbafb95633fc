import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.horns.pitch import (
    PART_KEYS,
    NoSuchNote,
    Note,
    cents_between,
    hz_to_midi,
    midi_to_hz,
    name_of,
    parse_note,
    part_key,
    sounding,
    written,
)

notes = st.builds(
    Note,
    st.sampled_from("CDEFGAB"),
    st.integers(min_value=-1, max_value=1),
    st.integers(min_value=0, max_value=8),
)


def test_the_test_note_is_written_f4_and_sounds_b_flat_3():
    assert sounding(parse_note("F4")) == parse_note("Bb3")
    assert written(parse_note("Bb3")) == parse_note("F4")
    assert parse_note("Bb3").display == "B♭3"


def test_a_note_keeps_its_spelling_through_a_transposition():
    assert sounding(parse_note("C#5")).name == "F#4"
    assert sounding(parse_note("Db5")).name == "Gb4"


@pytest.mark.parametrize(
    ("text", "name"), [("b♭3", "Bb3"), (" F#4 ", "F#4"), ("G♯5", "G#5"), ("Cb4", "Cb4"), ("fx2", "F##2")]
)
def test_note_names_are_read_as_musicians_write_them(text, name):
    assert parse_note(text).name == name


@pytest.mark.parametrize("text", ["", "H4", "B", "Bb", "4", "F4 and more", "F#b4", "F444", "Ｆ4"])
def test_what_is_no_note_is_refused_with_an_example(text):
    with pytest.raises(NoSuchNote, match="looks like Bb3"):
        parse_note(text)


def test_an_unknown_part_key_is_refused_with_the_known_ones():
    with pytest.raises(NoSuchNote, match="known are C, Bb"):
        part_key("H")


@pytest.mark.parametrize("hz", [0.0, -1.0, float("nan"), float("inf")])
def test_a_frequency_must_be_positive(hz):
    with pytest.raises(ValueError, match="positive number of hertz"):
        hz_to_midi(hz)


@given(notes)
def test_a_written_name_is_read_back_as_the_same_note(note):
    assert parse_note(note.name) == note
    assert parse_note(note.display) == note


@given(notes, st.sampled_from(sorted(PART_KEYS)))
def test_writing_what_sounds_gives_the_written_note_back(note, part):
    heard = sounding(note, part)
    assert heard.midi == note.midi + part_key(part).semitones
    assert written(heard, part).midi == note.midi


@pytest.mark.parametrize(
    ("name", "part", "heard"),
    [
        ("Ab2", "Eb", "B1"),
        ("C#4", "E", "F3"),
        ("A#4", "E", "D4"),
        ("Gb4", "F", "B3"),
        ("Db4", "F", "Gb3"),
        ("F4", "F", "Bb3"),
    ],
)
def test_a_white_key_sounds_by_its_own_name_and_a_black_one_as_its_part_spells_it(name, part, heard):
    assert sounding(parse_note(name), part).name == heard


@given(st.integers(min_value=0, max_value=127))
def test_every_midi_number_has_a_name_that_gives_it_back(midi):
    assert name_of(midi).midi == midi


@given(st.floats(min_value=-20, max_value=140))
def test_frequency_and_midi_number_are_inverse(midi):
    assert hz_to_midi(midi_to_hz(midi)) == pytest.approx(midi, abs=1e-9)


def test_an_octave_is_1200_cents():
    assert cents_between(220.0, 440.0) == pytest.approx(1200.0)
