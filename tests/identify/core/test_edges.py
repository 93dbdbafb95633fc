"""The core at its edges: what it says where nothing is known, and where there is no simple answer."""

from __future__ import annotations

import pytest

from identify.core.fingering.words import build_named
from identify.core.hearing.claim import recorded_tubes
from identify.core.hearing.weights import fitted
from identify.core.horns.pitch import Note, sounding, written


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


def test_a_note_that_would_need_three_sharps_is_spelt_another_way():
    # B double-sharp, written in F, sounds a fifth lower: E triple-sharp, so G.
    note = Note("B", 2, 4)

    assert sounding(note) == Note("E", 2, 4)
    for alter in (-2, -1, 0, 1, 2):
        for step in "CDEFGAB":
            moved = sounding(Note(step, alter, 4))
            assert moved.midi == Note(step, alter, 4).midi - 7
            assert abs(moved.alter) <= 2
            assert abs(written(moved).midi - Note(step, alter, 4).midi) == 0
