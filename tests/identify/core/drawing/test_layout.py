"""Where rows of slides lie is said once, and drawn as it is said."""

from __future__ import annotations

import pytest

from identify.core.drawing.layout import about_layout
from identify.core.drawing.lying import lying
from identify.core.drawing.picture import Words
from identify.core.drawing.whole import MARKED, described, whole
from identify.core.horns.catalogue import catalogue

EVERY = [*catalogue().every_form()]


@pytest.mark.parametrize("build", EVERY, ids=lambda build: f"{build.code} {build.form}")
def test_slides_are_drawn_in_the_row_that_their_side_is_said_to_have(build):
    rows = {slide.tube: slide.row for slide in lying(build).slides if slide.tube}

    assert rows == {side.tube: row for row, side in enumerate(build.rows)}
    assert sorted(build.rows, key=str) == sorted(build.own_sets, key=str)


def test_a_short_set_that_only_adds_lies_behind_the_one_it_adds_to():
    said = about_layout(catalogue()["triple-compensating"])

    rows = "that of the B♭ side, then that of the F side, then that of the high F side"

    assert f"Its rows of slides, from the front: {rows}." in said
    assert not any("other way round" in sentence for sentence in said)


def test_a_full_double_has_its_f_row_in_front_and_some_the_other_way_round():
    double = catalogue()["double-full"]

    assert about_layout(double) == [
        "The thumb’s valve lies beside the first finger’s.",
        "Its rows of slides, from the front: that of the F side, then that of the B♭ side.",
        "Some old horns have these two the other way round: which row plays, only its sound tells.",
        "Strings turn its rotors.",
    ]
    assert "2 rows of slides, that of the F side in front" in described(double)


def test_a_horn_without_strings_is_said_to_have_none():
    rotary_alto = next(form for form in catalogue()["alto-horn-eb"].forms if form.linkage)

    assert about_layout(rotary_alto) == ["Rods turn its rotors; it has no strings."]
    assert about_layout(catalogue()["mellophone-f"]) == []


def test_the_row_that_is_compared_with_is_marked_and_named():
    drawn = whole(catalogue()["double-compensating"], numbered=False, marked="Bb9")
    marked = [mark for mark in drawn.marks if getattr(mark, "part", "") == MARKED]
    named = [mark for mark in drawn.marks if isinstance(mark, Words)]

    assert (len(marked), [word.said for word in named]) == (3, ["B♭"])
    assert not [mark for mark in whole(catalogue()["double-full"]).marks if getattr(mark, "part", "") == MARKED]
