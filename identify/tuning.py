"""The tuning picture: how a held note went, against the note it is nearest to."""

from __future__ import annotations

from dataclasses import dataclass

from identify.core.hearing.listening import HeardNote
from identify.core.horns.pitch import both_names, hz_to_midi

WIDTH, HEIGHT, REACH = 240.0, 96.0, 60.0  # units of the drawing; cents from the middle line to its edges
IN_TUNE = 10.0


@dataclass(frozen=True, slots=True)
class Tuning:
    """`points` is the pitch through time for a polyline, `y` the height of the note as a whole."""

    name: str
    words: str
    y: float
    points: str
    middle: float = HEIGHT / 2


def how_tuned(cents: float) -> str:
    if abs(cents) <= IN_TUNE:
        return "in tune"
    return f"{abs(cents):.0f} cents {'high' if cents > 0 else 'low'}"


def tuning(heard: HeardNote) -> Tuning | None:
    """None where no note was heard."""
    if heard.hz is None or heard.cents is None:
        return None
    cents = [heard.cents + off for off in heard.course] or [heard.cents]
    step = WIDTH / max(1, len(cents) - 1)
    points = " ".join(f"{place * step:.1f},{_height(value):.1f}" for place, value in enumerate(cents))
    return Tuning(both_names(round(hz_to_midi(heard.hz))), how_tuned(heard.cents), _height(heard.cents), points)


def _height(cents: float) -> float:
    return HEIGHT / 2 * (1 - max(-1.0, min(1.0, cents / REACH)))
