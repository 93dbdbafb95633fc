"""A note that wavers is one note and can be heard once it is straightened; one that bends all the way is none.

A beginner's note goes up and down about one pitch, by half a semitone and more. The sound is stretched where it is high
and pressed together where it is low, so that its pitch stays: what is then heard is judged as any other recording.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.spectrum import SHORT, SHORT_HOP, Floats, Spectra, resampled

WIDEST = 85.0  # cents from its middle that a wavering note keeps to; with 60 there is room for what the frames add
KEPT_TO = 0.95  # share of the moments that do so
FEWEST_TURNS = 2  # times it goes through its middle: a bend does so once
LARGEST_STEP = 40.0  # cents, the usual step from one moment to the next: noise jumps further
# Of a wobble's moments so many lie so near to its middle: two notes a semitone apart, in turn, leave it empty.
MIDDLE, SEEN_THERE = 30.0, 0.15
FEWEST_MOMENTS = 12
# A bend: the medians of the four quarters go one way, at least two of their three steps clearly, and so far in all.
BACK, CLEAR_STEP, BENT = 3.0, 8.0, 40.0
_FINER = 4  # samples for every one, between which a straight line is close enough


def wavers(cents: Floats) -> bool:
    """Whether a course, in cents of each moment from any pitch, goes up and down about one pitch."""
    if len(cents) < FEWEST_MOMENTS:
        return False
    off = cents - np.median(cents)
    near = float((np.abs(off) <= WIDEST).mean())
    outside = off[np.abs(off) > 10]
    turns = int((np.diff(np.sign(outside)) != 0).sum())
    if near < KEPT_TO or turns < FEWEST_TURNS or float((np.abs(off) <= MIDDLE).mean()) < SEEN_THERE:
        return False
    return float(np.median(np.abs(np.diff(off)))) <= LARGEST_STEP


def bends(cents: Floats) -> bool:
    """Whether a course goes one way through more than half of the recording; a note that is only reached does not."""
    if len(cents) < FEWEST_MOMENTS:
        return False
    quarters = [float(np.median(part)) for part in np.array_split(cents, 4)]
    steps = np.diff(quarters) * np.sign(quarters[-1] - quarters[0])
    return bool(steps.min() >= -BACK and (steps >= CLEAR_STEP).sum() >= 2 and steps.sum() >= BENT)


def straightened(
    samples: NDArray[np.float32], rate: int, seen: Spectra, cents: Floats
) -> tuple[NDArray[np.float32], int]:
    """The sound with its pitch held at the middle of its course, and its rate; ``cents`` of the loud moments."""
    sound, new_rate = resampled(samples, rate)
    spectrum = np.fft.rfft(sound)
    fine = np.fft.irfft(spectrum, len(sound) * _FINER) * _FINER
    moments = (np.flatnonzero(seen.loud) * SHORT_HOP + SHORT / 2) * _FINER
    off = np.interp(np.arange(len(fine)), moments, cents - np.median(cents))
    # Where the pitch is high, time goes more slowly.
    moved = np.concatenate([[0.0], np.cumsum(2 ** (off[:-1] / 1200))])
    length = int(moved[-1] / _FINER)
    out = np.interp(np.arange(length) * float(_FINER), moved, fine)
    return out.astype(np.float32), round(new_rate)
