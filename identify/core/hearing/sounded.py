"""What one or two recorded notes say in the walk: the test note, and the step-down from it.

The test note is written F4 for a part in F, sounding B♭3. The step-down keeps the fingering and slurs to
the next lower note; neighbouring partials are just intervals apart (6:5, 4:3, 3:2, 2:1), so the step names
the partial.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from identify.core.hearing.notes import HeardNote
from identify.core.horns.air import TUBES
from identify.core.horns.pitch import A4_HZ, both_names, cents_between, hz_to_midi, midi_to_hz
from identify.core.horns.speech import _s

TEST_NOTE = 58  # B♭3
# A cold or old horn may be half a semitone off as a whole (A4 = 452.4 Hz is 48 cents sharp). Further off another note
# is nearer, and which of the two was meant nobody can say.
WITHIN_CENTS = 50.0
BETWEEN_CENTS = 75.0
LIPPED = 25.0  # spread, in cents, of an interval between two notes of the same player

INTERVALS = {
    2: "a tone", 3: "a minor third", 4: "a major third", 5: "a fourth", 7: "a fifth", 12: "an octave",
}  # fmt: skip
# Neighbouring partials k+1:k for k = 1 … 8, as the semitones they are called by: 2:1, 3:2, 4:3, 5:4, 6:5,
# 7:6, 8:7, 9:8.
_STEPS = ((1200.0, 12), (702.0, 7), (498.0, 5), (386.3, 4), (315.6, 3), (266.9, 3), (231.2, 2), (203.9, 2))


@dataclass(frozen=True)
class TestNoteHeard:
    """``is_it``: True, False, or None when no note was heard. ``cents`` from B♭3, None likewise."""

    is_it: bool | None
    cents: float | None
    sentence: str


@dataclass(frozen=True)
class StepHeard:
    """``semitones`` of the step-down (2 to 12) or None; ``cents`` as heard; ``weights`` likelihoods by
    semitones.

    ``confidence`` (0–1) joins that of both notes with how clearly the interval is one and no other.
    """

    semitones: int | None
    cents: float | None
    confidence: float
    weights: dict[int, float]
    sentence: str


def test_note(heard: HeardNote, a4: float = A4_HZ) -> TestNoteHeard:  # noqa: PT028 - not a test
    """Whether a recorded note is the test note with A4 at so many hertz, and what to do when it is another."""
    if heard.hz is None:
        return TestNoteHeard(None, None, heard.reason or _s("No note was heard."))
    cents = cents_between(midi_to_hz(TEST_NOTE, a4), heard.hz)
    if abs(cents) <= WITHIN_CENTS:
        return TestNoteHeard(True, cents, _s("This is the test note. Which valves were down?"))
    if abs(cents) <= BETWEEN_CENTS:
        said = (
            _s(
                "This is %(cents)s cents low, nearer to another note than to the test note. Push the main slide in, "
                "warm the horn or try other valves."
            )
            if cents < 0
            else _s(
                "This is %(cents)s cents high, nearer to another note than to the test note. Relax the lips or try "
                "other valves."
            )
        )
        return TestNoteHeard(False, cents, said % {"cents": f"{abs(cents):.0f}"})
    said = (
        _s("This is %(note)s, lower. Blow faster and aim higher, or try other valves: the test note is %(test_note)s.")
        if cents < 0
        else _s(
            "This is %(note)s, higher. Relax the lips and aim lower, or try other valves: the test note is "
            "%(test_note)s."
        )
    )
    names = {"note": both_names(round(hz_to_midi(heard.hz))), "test_note": both_names(TEST_NOTE)}
    return TestNoteHeard(False, cents, said % names)


test_note.__test__ = False  # type: ignore[attr-defined]  # not a test, whatever its name suggests to a test runner


def step_down(upper: HeardNote, lower: HeardNote) -> StepHeard:
    """The step between two recorded notes with the same fingering, as the walk's step-down check asks for
    it.
    """
    for heard, words in (
        (upper, _s("The first note: %(reason)s")),
        (lower, _s("The second note: %(reason)s")),
    ):
        if heard.hz is None:
            return StepHeard(None, None, 0.0, {}, words % {"reason": heard.reason})
    assert upper.hz is not None
    assert lower.hz is not None
    cents = cents_between(lower.hz, upper.hz)
    if cents < 100:
        again = (
            _s("The second recording holds the same note twice. Keep the valves and slur down to the next note.")
            if cents > -100
            else _s("The second recording holds a higher note. Keep the valves and slur down to the next note.")
        )
        return StepHeard(
            None,
            cents,
            0.0,
            {},
            again,
        )
    if cents > 1320:
        return StepHeard(
            None,
            cents,
            0.0,
            {},
            _s("That is more than an octave down, so a note was skipped. Slur to the very next one."),
        )
    weights: dict[int, float] = {}
    for step, semitones in _STEPS:
        near = math.exp(-0.5 * ((cents - step) / LIPPED) ** 2)
        weights[semitones] = max(weights.get(semitones, 0.0), near)
    total = sum(weights.values()) + 0.01  # so that a step far from every interval makes nothing sure
    semitones, best = max(weights.items(), key=lambda pair: pair[1])
    confidence = best / total * min(upper.confidence, lower.confidence)
    weights = {step: weight / total for step, weight in sorted(weights.items())}
    if best < 0.05:
        return StepHeard(
            None,
            cents,
            confidence,
            weights,
            _s("That is no step a horn makes without a valve. Keep the valves and try again."),
        )
    return StepHeard(
        semitones, cents, confidence, weights, _s("Down %(interval)s.") % {"interval": _s(INTERVALS[semitones])}
    )


def cents_off(tuning: float) -> str:
    said = _s("%(cents)s cents too low") if tuning < 0 else _s("%(cents)s cents too high")
    return said % {"cents": f"{abs(tuning):.0f}"}


def say_off(first: str, tuning: float, nearer: str | None, settled: bool) -> str:
    """That all open notes lie off the tube they fit, and what to do; `nearer` is a tube that they lie nearer to."""
    words = (
        _s("This is the %(tube)s tube, but all lie %(off)s.")
        if settled
        else _s("The notes have the steps of the %(tube)s tube, but all lie %(off)s.")
    )
    said = words % {"tube": TUBES[first].words, "off": cents_off(tuning)}
    if nearer == "A9":
        way = _s("That is how a B♭ side with its stopping valve on sounds: let that lever go and play them again.")
    elif nearer:
        way = _s("The %(tube)s tube lies nearer: see what is pressed and which slides are in.") % {
            "tube": TUBES[nearer].words
        }
    elif tuning < 0:
        way = _s("Push all slides in, warm the horn and play them again.")
    else:
        way = _s("See that no slide or crook is missing and play them again.")
    return f"{said} {way}"
