"""What sounds where the test note is asked for: the note itself, and those that a novice may hit instead."""

from __future__ import annotations

from functools import lru_cache

from identify.core.horns.air import HIGHEST_PARTIAL, AirColumn, Sounding, sounding
from identify.core.horns.pitch import TEST_NOTE
from identify.core.reasoning.evidence import NONE
from identify.core.reasoning.expect import IN_TUNE_ENOUGH, test_note_ways

# Tried first by whoever does not know the horn: nearly every horn sounds the test note with one of these two.
TRIED_FIRST = ("0", "1")


def right(column: AirColumn) -> Sounding | None:
    """The test note with its usual fingering; None where no fingering sounds it."""
    fingering = test_note_ways(column)[0][0]
    return None if fingering == NONE else sounding(column, fingering, TEST_NOTE.midi)


@lru_cache(maxsize=256)
def missed(column: AirColumn) -> tuple[tuple[str, tuple[Sounding, ...]], ...]:
    """By fingering, the right one first: the nearest notes below and above the test note that are not it."""
    usual = right(column)
    tried = dict.fromkeys(
        ([usual.fingering] if usual else []) + [fingering for fingering in TRIED_FIRST if column.has(fingering)]
    )
    return tuple((fingering, _beside(column, fingering)) for fingering in tried)


def _beside(column: AirColumn, fingering: str) -> tuple[Sounding, ...]:
    every = [
        Sounding(fingering, partial, 100.0 * (column.pitch(fingering, partial) - TEST_NOTE.midi))
        for partial in range(2, HIGHEST_PARTIAL + 1)
    ]
    below = [heard for heard in every if heard.cents < -IN_TUNE_ENOUGH]
    above = [heard for heard in every if heard.cents > IN_TUNE_ENOUGH]
    return (*below[-1:], *above[:1])
