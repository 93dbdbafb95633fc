"""The core's figures and notes, as whoever reads them writes and calls them."""

from __future__ import annotations

import re

import pytest
from django.template.loader import render_to_string
from django.utils.translation import override

from identify.core.drawing.hand import hand
from identify.core.drawing.unrolled import about_sets
from identify.core.hearing.kept_notes import read_notes
from identify.core.hearing.notes import HeardNote
from identify.core.hearing.sound import UnreadableSound, read_sound
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import TEST_NOTE, both_names
from identify.core.horns.speech import figure
from identify.tuning import how_tuned, tuning


# Names of notes as in identify/core/horns/note_names.py; the decimal sign is the framework's own for each language.
@pytest.mark.parametrize(
    ("code", "sound", "tuned", "hertz"),
    [
        ("en", "B♭3 (written F4)", "1.5 semitones too high", "58.3"),
        ("de", "b (notiert f¹)", "1,5 Halbtöne zu hoch", "58,3"),
    ],
)
def test_notes_and_figures_are_said_as_their_reader_does(code: str, sound: str, tuned: str, hertz: str):
    with override(code):
        assert (both_names(TEST_NOTE.midi), how_tuned(150), figure(58.27, 1)) == (sound, tuned, hertz)


@pytest.mark.parametrize(
    ("code", "unreadable", "left_out", "fingers"),
    [
        (
            "en",
            "This is a PDF document, not a WAV recording. Record the note again, or save",
            "Open notes with the thumb up: part of what the address holds is no note, and is left out.",
            "The left hand: 1 index finger, 2 middle finger, 3 ring finger.",
        ),
        (
            "de",
            "Das ist ein PDF-Dokument, keine WAV-Aufnahme. Nehmen Sie den Ton noch einmal auf",
            "Leere Töne mit dem Daumen oben: Ein Teil dessen, was in der Adresse steht, ist kein Ton und bleibt weg.",
            "Die linke Hand: 1 Zeigefinger, 2 Mittelfinger, 3 Ringfinger.",
        ),
    ],
)
def test_a_recording_an_address_and_a_hand_are_spoken_of_in_the_readers_language(
    code: str, unreadable: str, left_out: str, fingers: str
):
    with override(code):
        with pytest.raises(UnreadableSound, match=unreadable):
            read_sound(b"%PDF-1.7 and so on")
        assert [*read_notes({"heard_up": "none"})[1].values()] == [left_out]
        assert hand(catalogue()["single-f"]).description == fingers


def test_a_whole_figure_has_no_places():
    assert [figure(30.0), figure(29.5)] == ["30", "29.5"]


def test_how_long_a_set_is_has_the_readers_decimal_sign():
    with override("de"):
        assert "1,33-mal" in about_sets(catalogue()["double-full"])[0]


def test_a_drawing_is_the_same_whatever_its_readers_decimal_sign():
    drawn = []
    for code in ("en", "de"):
        with override(code):
            page = render_to_string("identify/_tuning.svg", {"tuning": tuning(HeardNote(233.08, 1, cents=12.5))})
        drawn.append(re.findall(r' (?:d|points)="([^"]*)"', page))
    assert drawn[0] == drawn[1] != []
