"""What a page plays: the notes to expect, read as words and, where a script runs, heard as a horn would sound them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import gettext as _s

from identify.core.horns.air import TUBES, AirColumn, Sounding, partial_semitones
from identify.core.horns.builds import main_lever
from identify.core.horns.pitch import A4_HZ, TEST_NOTE, both_names
from identify.core.horns.speech import capital
from identify.core.horns.tone import CELSIUS, cents_a_degree, tone
from identify.core.reasoning.expect import Hypothesis
from identify.core.reasoning.missed import how_test_note_sounds, missed, right
from identify.core.reasoning.numbers import interval, with_fingers
from identify.core.reasoning.verdict import Verdict

SOUNDED = ("test_note", "test_note_thumb")
SHOWN = 3  # tubes at most, the likeliest first
# Partials of the test note on the tubes that horns have, each with the next one down: what the step-down may be.
STEPS = ((6, 5), (4, 3), (3, 2), (2, 1))


@dataclass(frozen=True, slots=True)
class ToHear:
    """Notes to be played one after another: in words, and `tones` as the page's script reads them."""

    words: str
    tones: str


@dataclass(frozen=True, slots=True)
class OnTube:
    """The test note on one air column, of one of `TUBES`: where, in a sentence, to hear (None where no fingering sounds
    it), and what may be hit instead, by fingering.
    """

    tube: str
    where: str
    how: str
    right: ToHear | None
    missed: tuple[tuple[str, tuple[ToHear, ...]], ...]


@dataclass(frozen=True, slots=True)
class ToExpect:
    """What a step of the walk plays, where A is `a4` hertz: the test note on these air columns; of none of them
    `steps`, the answers to the step-down. It is put in words when it is asked for, which pages do once for the same.
    """

    columns: tuple[AirColumn, ...]
    a4: float

    @property
    def tubes(self) -> tuple[OnTube, ...]:
        return tuple(on_tube(TUBES[column.tube].words, column, self.a4) for column in self.columns)

    @property
    def steps(self) -> tuple[ToHear, ...]:
        return () if self.columns else tuple(_step(upper, lower, self.a4) for upper, lower in STEPS)

    @property
    def reckoned(self) -> str:
        return reckoned(self.a4)


def reckoned(a4: float) -> str:
    """For which pitch and temperature the notes are played."""
    return _s(
        "Played for A = %(hertz)s Hz and %(celsius)s °C. A colder horn sounds lower, by about %(cents)s cents a degree."
    ) % {"hertz": f"{a4:g}", "celsius": f"{CELSIUS:g}", "cents": f"{cents_a_degree():.0f}"}


def to_hear(words: str, *pitches: float, a4: float) -> ToHear:
    """Of notes as (possibly fractional) MIDI numbers."""
    return ToHear(words, _tones(pitches, a4))


@lru_cache(maxsize=1024)
def _tones(pitches: tuple[float, ...], a4: float) -> str:
    tones = [tone(pitch, a4) for pitch in pitches]
    said = [{"hz": round(one.hz, 2), "partials": [round(level, 3) for level in one.partials]} for one in tones]
    return json.dumps(said, separators=(",", ":"))


def _heard(one: Sounding, a4: float, part: str) -> ToHear:
    pitch = TEST_NOTE.midi + one.cents / 100
    return to_hear(both_names(round(pitch), part), pitch, a4=a4)


def _hit(column: AirColumn, usual: Sounding | None, fingering: str) -> str:
    """How one comes by a note beside the test note."""
    if usual and fingering == usual.fingering:
        return _s("Missed, the note is")
    if not column.valves:
        return _s("Near it, the note is")
    return _s("%(fingers)s, the note is") % {"fingers": capital(with_fingers(fingering))}


def on_tube(where: str, column: AirColumn, a4: float = A4_HZ, part: str = "F") -> OnTube:
    """The test note on an air column, with what a novice may hit, as it is written in a part."""
    usual = right(column)
    instead = tuple(
        (_hit(column, usual, fingering), tuple(_heard(one, a4, part) for one in beside))
        for fingering, beside in missed(column)
    )
    how = how_test_note_sounds(column, usual.fingering if usual else "none")
    return OnTube(column.tube, where, how, _heard(usual, a4, part) if usual else None, instead)


def to_expect(verdict: Verdict, key: str, a4: float = A4_HZ) -> ToExpect | None:
    """What to expect at a step of the walk, of the horns still possible; None where nothing is sounded."""
    if key == "step_down":
        return ToExpect((), a4)
    if key not in SOUNDED:
        return None
    found: dict[str, tuple[AirColumn, float]] = {}
    for one in verdict.still_possible:
        for column in _columns(one.form, key):
            first, chance = found.get(column.tube, (column, 0.0))
            found[column.tube] = first, chance + one.probability
    likeliest = sorted(found.values(), key=lambda pair: -pair[1])[:SHOWN]
    return ToExpect(tuple(column for column, _ in likeliest), a4) if likeliest else None


def to_expect_of_all(key: str, a4: float = A4_HZ) -> tuple[ToExpect | None, tuple[str, ...]]:
    """The same on every tube, for a page that narrows it by itself, and the tube of each whole horn of the scales, ""
    where it has none.
    """
    if key == "step_down":
        return ToExpect((), a4), ()
    if key not in SOUNDED:
        return None, ()
    from identify.core.reasoning.scales import scales

    columns = [next(iter(_columns(one, key)), None) for one in scales().hypotheses]
    first = {one.tube: one for one in reversed(columns) if one}
    return ToExpect(tuple(first.values()), a4), tuple(one.tube if one else "" for one in columns)


def _columns(horn: Hypothesis, key: str) -> Iterable[AirColumn]:
    """What sounds at a step on the whole horn: the tube at rest, or the one that the thumb lever leads to."""
    whole = horn.whole
    if key == "test_note":
        return [whole.at_rest]
    lever = main_lever(horn.build)
    return [whole.pressed(lever)] if lever else []


def _step(upper: int, lower: int, a4: float) -> ToHear:
    down = partial_semitones(upper) - partial_semitones(lower)
    return to_hear(
        _s("down %(interval)s") % {"interval": interval(round(down))}, TEST_NOTE.midi, TEST_NOTE.midi - down, a4=a4
    )
