"""What sounds where the test note is asked for: the note itself, and those that a novice may hit instead, in words."""

from __future__ import annotations

from functools import lru_cache

from identify.core.horns.air import HIGHEST_PARTIAL, TUBES, AirColumn, Sounding, sounding, ways
from identify.core.horns.pitch import TEST_NOTE
from identify.core.horns.speech import _s, capital, figure
from identify.core.reasoning.evidence import NONE
from identify.core.reasoning.expect import IN_TUNE_ENOUGH, test_note_ways
from identify.core.reasoning.numbers import fingered, lowering, nth, with_fingers

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


def how_test_note_sounds(column: AirColumn, fingering: str) -> str:
    """Why a fingering does or does not sound the test note on an air column, in one sentence."""
    note = TEST_NOTE.display
    tube = TUBES[column.tube].words
    if fingering == NONE:
        fitting = ways(column, TEST_NOTE.midi, IN_TUNE_ENOUGH)
        said = {"tube": tube, "note": note}
        if not fitting and not column.valves:
            return _s("No open note of the %(tube)s tube is %(note)s.") % said
        if not fitting:
            return _s("No fingering brings a partial of the %(tube)s tube to %(note)s.") % said
        pressed = fitting[0].fingering
        if right(column) is None:
            return _near(column, fitting[0])
        if pressed == "0":
            return _s("Open, the %(tube)s tube does sound %(note)s.") % said
        return _s("%(fingers)s the %(tube)s tube does sound %(note)s.") % {
            "fingers": capital(fingered(pressed)),
            **said,
        }
    if not column.has(fingering):
        return _s("Such a horn has no valves to finger %(fingering)s with.") % {"fingering": fingering}
    heard = sounding(column, fingering, TEST_NOTE.midi)
    said = _said(column, heard)
    if abs(heard.cents) <= IN_TUNE_ENOUGH:
        return _s("%(how)s sounds %(note)s as its %(partial)s partial.") % said
    high = heard.cents > 0
    if fingering in dict(test_note_ways(column)):
        words = (
            _s("%(how)s sounds %(note)s as its %(partial)s partial, %(cents)s cents too high.")
            if high
            else _s("%(how)s sounds %(note)s as its %(partial)s partial, %(cents)s cents too low.")
        )
    else:
        words = (
            _s("%(how)s misses %(note)s: its %(partial)s partial is %(cents)s cents too high.")
            if high
            else _s("%(how)s misses %(note)s: its %(partial)s partial is %(cents)s cents too low.")
        )
    return words % said


def _near(column: AirColumn, heard: Sounding) -> str:
    """Of a fingering that nobody is taught for the test note, though it comes near it."""
    words = (
        _s("%(how)s comes near %(note)s, as its %(partial)s partial, %(cents)s cents too high.")
        if heard.cents > 0
        else _s("%(how)s comes near %(note)s, as its %(partial)s partial, %(cents)s cents too low.")
    )
    return words % _said(column, heard)


def _said(column: AirColumn, heard: Sounding) -> dict[str, str]:
    tube = TUBES[column.tube].words
    if heard.fingering == "0":
        how = _s("Open, the %(tube)s tube") % {"tube": tube}
    else:
        fingers, lowered = capital(with_fingers(heard.fingering)), lowering(column.meant(heard.fingering))
        how = _s("%(fingers)s the %(tube)s tube %(lowered)s") % {"fingers": fingers, "tube": tube, "lowered": lowered}
    cents = f"{abs(heard.cents):.0f}"
    return {"how": how, "note": TEST_NOTE.display, "partial": nth(heard.partial), "cents": cents}


def sounded(column: AirColumn, answer: str, fits: bool) -> tuple[str, str]:
    """What an answer to the test note says of an air column, and the figures to it."""
    usual = test_note_ways(column)[0][0]
    if fits:
        return how_test_note_sounds(column, answer), _in_cents(column, answer)
    if answer == NONE:
        return how_test_note_sounds(column, answer), _in_cents(column, usual)
    said = {"sentence": how_test_note_sounds(column, answer)[:-1], "fingers": fingered(usual)}
    if usual == NONE:
        return _s("%(sentence)s; no fingering sounds the note.") % said, _in_cents(column, usual)
    return _s("%(sentence)s; that tube sounds the note %(fingers)s.") % said, _in_cents(column, usual)


def _in_cents(column: AirColumn, fingering: str) -> str:
    if fingering == NONE or not column.has(fingering):
        return ""
    heard = sounding(column, fingering, TEST_NOTE.midi)
    told = _s("The pedal is %(hertz)s Hz; partial %(partial)s with %(fingering)s comes out %(cents)s cents.") % {
        "hertz": figure(TUBES[column.tube].pedal_hz, 1),
        "partial": heard.partial,
        "fingering": fingering,
        "cents": f"{heard.cents:+.0f}",
    }
    if column.in_tune:
        return told
    return f"{told} {_s('The slides belong to a shorter tube, so the valves play sharp.')}"
