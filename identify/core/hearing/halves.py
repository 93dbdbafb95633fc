"""A recording heard half by half: notes in turn are two, and a note that was spoilt may be clear in one half."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.spectrum import SHORT, SHORT_HOP, Spectra
from identify.core.horns.pitch import cents_between

SHORTEST_HALF = 0.15  # seconds
ANOTHER = 60.0  # cents from which a half holds another note than the whole
CLEAR = 0.95  # trust of a half that is enough for the whole, if the other half holds the same note
FOUND, DOUBTED = 0.5, 0.9  # the least trust in a note that one half makes clear, the most in one that not both hold


def halves(samples: NDArray[np.float32], rate: int, seen: Spectra) -> list[NDArray[np.float32]]:
    """What lies before and after the middle of the sounding moments; too short or silent ones are left out."""
    middle = int((float(np.median(np.flatnonzero(seen.loud))) * SHORT_HOP + SHORT / 2) / seen.rate * rate)
    return [part for part in (samples[:middle], samples[middle:]) if len(part) >= SHORTEST_HALF * rate and part.any()]


def weighed(hz: float, confidence: float, heard: Sequence[tuple[float, float]]) -> float:
    """The trust in a note, given the note and the trust of each half heard alone."""
    others = [(other, trust) for other, trust in heard if abs(cents_between(other, hz)) > ANOTHER]
    # A short half may be heard as one partial of the note: that speaks for no other note, but makes it not sure.
    against = max((trust for other, trust in others if not _is_partial(other, hz)), default=0.0)
    if others:
        return min(confidence, DOUBTED, 1 - against)
    if len(heard) == 2 and max(trust for _, trust in heard) >= CLEAR:
        return max(confidence, FOUND)
    return confidence


def _is_partial(other: float, hz: float) -> bool:
    number = max(1, round(other / hz))
    return number > 1 and abs(cents_between(other, number * hz)) <= ANOTHER
