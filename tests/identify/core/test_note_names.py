"""What families call a note: from memory of how it is taught, no source looked up."""

import pytest

from identify.core.horns.note_names import named
from identify.core.horns.pitch import parse_note


@pytest.mark.parametrize(
    ("language", "natural", "flat", "sharp"),
    [
        ("en-gb", "B3", "B♭3", "F♯4"),
        ("de", "h", "b", "fis¹"),
        ("pl", "h", "b", "fis¹"),
        ("fr", "si", "si bémol", "fa dièse"),
        ("es", "si", "si bemol", "fa sostenido"),
        ("tr", "si", "si bemol", "fa diyez"),
        ("uk", "сі", "сі-бемоль", "фа-дієз"),
        ("ar", "سي", "سي بيمول", "فا دييز"),
    ],
)
def test_b_and_b_flat_are_told_apart_in_every_language(language, natural, flat, sharp):
    assert [named(parse_note(name), language) for name in ("B3", "Bb3", "F#4")] == [natural, flat, sharp]


def test_german_names_say_flats_and_octaves_as_german_teachers_do():
    told = {"Eb4": "es¹", "Ab3": "as", "Db5": "des²", "B2": "H", "Bb2": "B", "C3": "c", "C4": "c¹", "Bb1": "B₁"}
    assert {name: named(parse_note(name), "de-AT") for name in told} == told


def test_a_school_names_notes_in_its_own_way_whatever_the_language():
    flat = parse_note("Bb3")
    said = [named(flat, language, way) for language, way in (("fr", "letters"), ("en-gb", "german"), ("de", "solfege"))]
    assert said == ["B♭3", "b", "si♭"]


def test_a_note_altered_twice_keeps_its_letters():
    assert named(parse_note("Bbb3"), "de") == "B𝄫3"
