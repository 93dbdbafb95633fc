"""The tuning picture: how a held note went, against the note that was asked for, else the one it is nearest to."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _s

from identify.core.hearing.notes import HeardNote
from identify.core.horns.pitch import A4_HZ, both_names, cents_between, hz_to_midi
from identify.core.horns.speech import figure

WIDTH, HEIGHT, REACH = 240.0, 96.0, 60.0  # units of the drawing; cents from the middle line to its edges
IN_TUNE = 10.0
NEAR = 100.0  # cents from the note asked for, up to which the distance is read best in cents


@dataclass(frozen=True, slots=True)
class Tuning:
    """`points` is the pitch through time for a polyline, `y` the height of the note as a whole."""

    name: str
    words: str
    y: float
    points: str


def how_tuned(cents: float) -> str:
    if abs(cents) <= IN_TUNE:
        return _s("in tune")
    high = cents > 0
    if abs(cents) < NEAR:
        return (_s("%(cents)s cents high") if high else _s("%(cents)s cents low")) % {"cents": f"{abs(cents):.0f}"}
    half_tones = round(abs(cents) / 100, 1)
    if half_tones == 1:
        return _s("1 semitone too high") if high else _s("1 semitone too low")
    said = _s("%(semitones)s semitones too high") if high else _s("%(semitones)s semitones too low")
    return said % {"semitones": figure(half_tones)}


def tuning(heard: HeardNote, asked: int | None = None, a4: float = A4_HZ) -> Tuning | None:
    """Against the note `asked` for, a MIDI number, with A4 at so many hertz; None where no note was heard."""
    if heard.hz is None or heard.cents is None:
        return None
    higher = cents_between(A4_HZ, a4)
    nearest = round(hz_to_midi(heard.hz))
    middle = round(hz_to_midi(heard.hz) - higher / 100) if asked is None else asked
    off = heard.cents + 100 * (nearest - middle) - higher
    cents = [off + moved for moved in heard.course] or [off]
    step = WIDTH / max(1, len(cents) - 1)
    points = " ".join(f"{place * step:.1f},{_height(value):.1f}" for place, value in enumerate(cents))
    return Tuning(both_names(middle), how_tuned(off), _height(off), points)


def _height(cents: float) -> float:
    return HEIGHT / 2 * (1 - max(-1.0, min(1.0, cents / REACH)))
