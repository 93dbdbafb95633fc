"""The care of a horn names its own valves and no others."""

from __future__ import annotations

import pytest

from fleet.workshop.queries.looking_after import Card, care_of
from identify.core.horns.catalogue import catalogue


@pytest.mark.parametrize(
    ("code", "says", "never"),
    [
        ("double-full", "Nobody takes the valves apart", "pistons"),
        ("mellophone-f", "take the pistons out", "apart"),
        ("vienna-f", "a few drops of valve oil", "pistons"),
        ("natural-horn", "wash the mouthpiece", "oil "),
        ("alto-horn-eb", "Pistons come out for it, one at a time; rotary valves never do", "takes the valves apart"),
    ],
)
def test_care_is_for_the_valves_there_are(code, says, never):
    care = care_of(catalogue()[code])
    told = " ".join(care.lines)

    assert says in told
    assert never not in told


def test_a_horn_that_nobody_has_named_gets_every_caution():
    told = " ".join(care_of(None).lines)

    assert "Nobody takes the valves apart" in told
    assert "H304" in told
    assert "pistons" not in told


def test_double_pistons_are_not_taken_out():
    told = care_of(catalogue()["vienna-f"])

    assert told.valves == "double-piston"
    assert not any("take the pistons" in line for line in told.lines)


def test_of_what_stands_in_a_catalogue_only_bold_is_markup():
    card = Card("oil", "<b>Every week:</b> oil & <i>wait</i>")

    assert card.html == "<b>Every week:</b> oil &amp; &lt;i&gt;wait&lt;/i&gt;"
    assert card.words == "Every week: oil & <i>wait</i>"
