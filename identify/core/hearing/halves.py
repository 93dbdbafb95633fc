"""A recording heard half by half: notes in turn are two, and a note that was spoilt may be clear in one half."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.spectrum import SHORT, SHORT_HOP, Spectra
from identify.core.horns.pitch import cents_between

SHORTEST_HALF = 0.15  # seconds
ANOTHER = 60.0  # cents from which a half holds another note than the whole
CLEAR = 0.95  # trust of a half that is enough for the whole, if the other half holds the same note
FOUND, DOUBTED = 0.5, 0.9  # the least trust in a note that one half makes clear, the most in one that not both hold
# How far another note may outscore that of the whole in one half: of 4,100 notes that were held none lay over 16, of
# notes in turn that would have been answered all over 21.
MOST_LEAD = 20.0


class Half(NamedTuple):
    """The note that a half holds when heard alone, the trust in it, and its lead in score over the whole's note."""

    hz: float
    trust: float
    lead: float = 0.0


def halves(samples: NDArray[np.float32], rate: int, seen: Spectra) -> list[NDArray[np.float32]]:
    """What lies before and after the middle of the sounding moments; too short or silent ones are left out."""
    middle = int((float(np.median(np.flatnonzero(seen.loud))) * SHORT_HOP + SHORT / 2) / seen.rate * rate)
    return [part for part in (samples[:middle], samples[middle:]) if len(part) >= SHORTEST_HALF * rate and part.any()]


def weighed(hz: float, confidence: float, heard: Sequence[Half]) -> float:
    """The trust in a note, given the note and the trust of each half heard alone."""
    others = [half for half in heard if abs(cents_between(half.hz, hz)) > ANOTHER]
    if any(half.lead > MOST_LEAD for half in others):
        return 0.0
    if others:  # a short half is easily heard an octave off: that speaks for no other note, but makes it not sure
        return min(confidence, DOUBTED)
    if len(heard) == 2 and max(half.trust for half in heard) >= CLEAR:
        return max(confidence, FOUND)
    return confidence
