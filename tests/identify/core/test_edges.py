"""The core at its edges: what it says where nothing is known, and where there is no simple answer."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from identify.core.drawing.engraving import _SvgReader
from identify.core.drawing.picture import Shape, segments
from identify.core.fingering.words import build_named
from identify.core.hearing.claim import recorded_tubes
from identify.core.hearing.listening import listen
from identify.core.hearing.open_notes import _say
from identify.core.hearing.sound import Sound
from identify.core.hearing.spectrum import _magnitudes
from identify.core.hearing.weights import fitted
from identify.core.horns.catalogue import DataError
from identify.core.horns.pitch import Note, sounding, written
from identify.core.reasoning.expect import Hypothesis, overlap
from identify.core.reasoning.mistakes import NAMES, read_mistakes


@pytest.mark.parametrize(
    ("build", "stand", "tube"),
    [("single-f", "", "F12"), ("single-f", "F", "F12"), ("single-f", "D", "F12"), ("double-full", "", None)],
)
def test_a_record_without_a_stand_names_a_tube_only_where_there_is_one(build, stand, tube):
    found = recorded_tubes(build_named(build), stand, "as recorded")

    assert (found.up if found else None) == tube


def test_a_natural_horn_names_no_tube_without_its_crook():
    assert recorded_tubes(build_named("natural-horn"), "", "as recorded") is None


def test_weights_fitted_to_other_facts_are_not_used(tmp_path):
    path = tmp_path / "weights.toml"
    path.write_text('[score]\nnames = ["a", "b"]\nmean = [0, 0]\nspread = [1, 1]\nweights = [1, 1, 1]\n', "utf-8")
    with pytest.raises(ValueError, match="fit it again"):
        fitted("score", ("a", "c"), path)


def test_a_note_that_would_need_two_sharps_or_more_is_spelt_another_way():
    # B double-sharp, written in F, sounds a fifth lower: E double-sharp, so F sharp.
    assert sounding(Note("B", 2, 4)) == Note("F", 1, 4)
    for alter in (-2, -1, 0, 1, 2):
        for step in "CDEFGAB":
            moved = sounding(Note(step, alter, 4))
            assert moved.midi == Note(step, alter, 4).midi - 7
            assert abs(moved.alter) <= 1
            assert abs(written(moved).midi - Note(step, alter, 4).midi) == 0


def drawn(inner: str) -> _SvgReader:
    return _SvgReader(ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{inner}</svg>'))  # noqa: S314


def test_every_sign_of_an_engraving_is_taken_over_where_it_stands():
    read = drawn(
        '<svg viewBox="0 0 10 20"><g transform="translate(1, 1)"><rect x="1" y="2" width="3" height="4"/></g>'
        '<polygon points="0,0 5,0 5,5"/><g class="note"><text>1</text></g></svg>'
    )
    assert read.marks == [Shape("M2 3h3v4h-3z", fill=1.0), Shape("M0 0L5 0L5 5z", fill=1.0)]
    assert read.height == 20


@pytest.mark.parametrize(
    ("inner", "said"),
    [
        ("", "drew nothing"),
        ('<svg viewBox="0 0 1 1"><path d="M0 0C1 1 2 2 3 3"/></svg>', "not made of lines"),
        ('<svg viewBox="0 0 1 1"><circle r="1"/></svg>', "drew a circle"),
    ],
)
def test_an_engraving_that_is_not_understood_is_refused(inner, said):
    with pytest.raises(ValueError, match=said):
        drawn(inner)


@pytest.mark.parametrize(
    ("path", "same"),
    [("M0 0 5 5 6 6", "M0 0L5 5L6 6"), ("m1 1 2 2", "M1 1L3 3"), ("M1 1 2 2m1 1 2 2", "M1 1L2 2M3 3L5 5")],
)
def test_a_move_that_goes_on_draws_lines(path, same):
    assert list(segments(path)) == list(segments(same))


@pytest.mark.parametrize(("clipped", "code"), [(0.1, "noise"), (0.11, "clipped")])
def test_what_is_no_note_and_was_too_loud_is_said_to_have_been_too_loud(clipped, code):
    hiss = 0.3 * np.random.default_rng(1).standard_normal(22_050).astype(np.float32)
    assert listen(Sound(hiss, 22_050, clipped)).code == code


def test_a_tube_that_no_note_could_decide_is_asked_for_once_more():
    assert _say([("F12", 0.9)], False, 2, (2, 3), None) == (
        "Probably the 12-foot F tube. Push all slides in, warm the horn and play the notes again."
    )


def test_a_sound_shorter_than_a_moment_is_one_moment():
    assert _magnitudes(np.ones(10, np.float32), 32, 1, 32).shape == (1, 17)


def test_a_check_that_means_nothing_for_one_of_two_horns_tells_them_not_apart():
    natural, single = build_named("natural-horn"), build_named("single-f")
    one, other = Hypothesis(natural, natural.stands[0]), Hypothesis(single, single.stands[0])
    assert overlap(one, other, "mechanism") == overlap(other, one, "mechanism") == 1.0


def test_every_mistake_has_its_rate(tmp_path):
    path = tmp_path / "mistakes.toml"
    path.write_text("".join(f'[{name}]\nrate = 0.1\nwords = "w"\norigin = "o"\n' for name in NAMES[1:]), "utf-8")
    with pytest.raises(DataError, match=f"{NAMES[0]}.*missing"):
        read_mistakes(path)
