"""The care of a horn names its own valves and no others."""

from __future__ import annotations

import pytest

from fleet.workshop.queries.looking_after import care_of
from identify.core.horns.catalogue import catalogue


@pytest.mark.parametrize(
    ("code", "says", "never"),
    [
        ("double-full", "oil the rotors", "pistons"),
        ("mellophone-f", "take the pistons out", "rotors"),
        ("vienna-f", "oil the valves as you were shown", "rotors"),
        ("natural-horn", "wash the mouthpiece", "oil"),
    ],
)
def test_care_is_for_the_valves_there_are(code, says, never):
    care = care_of(catalogue()[code])
    told = " ".join([*care.lines, *(words for group in care.cautions for words in group)])

    assert says in told
    assert never not in told


def test_a_horn_that_nobody_has_named_gets_every_caution_and_no_oil():
    care = care_of(None)

    assert not any("oil the" in line for line in care.lines)
    assert any("rotors" in words for group in care.cautions for words in group)


def test_double_pistons_are_not_taken_out():
    told = care_of(catalogue()["vienna-f"])

    assert told.valves == "double-piston"
    assert not any("take the pistons" in line for line in told.lines)
