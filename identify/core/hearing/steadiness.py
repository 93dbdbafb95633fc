"""Whether one single steady note is held: followed frame by frame, and searched for a second one.

The numbers that come out are joined, by weights found by fitting and kept in data/hearing.toml, into the
chance that the note is right; and the plainest of them names the reason when it is not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.proposals import MIDDLE_C, PARTIALS, belonging, occupancy, odd_from_even
from identify.core.hearing.spectrum import SHORT, SHORT_HOP, Floats, Spectra

STEPS = np.arange(-120.0, 121.0, 10.0)  # cents around the note in which each frame is searched
NEAR = 35.0  # a frame this close, in cents, is on the note
# Two notes in the ratio a:b look like partials a and b of a note far below both.
PAIRS = ((2, 3), (3, 4), (4, 5), (5, 6), (3, 5), (2, 5))
# What is asked of another note, so that no noise is taken for one: of 4,100 notes held it was found in one, of 36 pairs
# that would have been answered in 27.
BESIDE, FITTING, FEWEST_OWN, COMPLETE = 0.1, 0.4, 4, 0.8
FEATURES = (
    "near", "near_in_worse_half", "longest_run", "longest_run_seconds", "spread", "drift",
    "highest_foreign", "foreign_power", "foreign_weight", "clearness", "prominence", "seconds", "sounding",
    "unevenness", "height", "height_squared", "pair", "pair_level",
    "odd_from_even",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Course:
    """How the note goes: ``cents`` of each loud frame from the note, and the row of ``FEATURES``."""

    cents: Floats
    features: Floats

    def __getitem__(self, name: str) -> float:
        return float(self.features[FEATURES.index(name)])


def _follow(spectra: Spectra, hz: float) -> tuple[Floats, Floats, Floats]:
    """Cents from the note and prominence of it in every loud frame; excess in dB of its partials."""
    bin_hz = spectra.rate / SHORT
    most = max(1, min(12, int(0.95 * spectra.rate / 2 / (hz * 1.08)), int(5000 / (hz * 1.08))))
    at: Floats = np.arange(1, most + 1, dtype=np.float64) * hz
    bins = spectra.bins(at)
    level, excess = spectra.long[bins], spectra.excess[bins]
    weight = (np.sqrt(level / level.max()) * np.clip((excess - 4) / 12, 0, 1) + 1e-4).astype(np.float32)
    frames = np.sqrt(spectra.short[spectra.loud])
    place = 2 ** (STEPS[:, None] / 1200) * at / bin_hz
    below = np.minimum(place.astype(int), frames.shape[1] - 2)
    part = (place - below).astype(np.float32)
    # Both neighbouring bins of every partial at every step, as one matrix product.
    table = np.zeros((frames.shape[1], len(STEPS)), dtype=np.float32)
    for step in range(len(STEPS)):
        np.add.at(table[:, step], below[step], weight * (1 - part[step]))
        np.add.at(table[:, step], below[step] + 1, weight * part[step])
    scores = frames @ table
    best = scores.argmax(axis=1)
    middle = np.clip(best, 1, len(STEPS) - 2)
    rows = np.arange(len(scores))
    left, top, right = (scores[rows, middle + shift].astype(np.float64) for shift in (-1, 0, 1))
    bend = left - 2 * top + right
    offset = np.where((best == middle) & (bend < -1e-12), 0.5 * (left - right) / np.where(bend < -1e-12, bend, -1), 0)
    cents = STEPS[best] + 10 * np.clip(offset, -1, 1)
    prominence = scores.max(axis=1) / (frames[:, 2:].mean(axis=1) * weight.sum() + 1e-9)
    return cents, prominence.astype(np.float64), excess


def _longest_run(near: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], near.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max()) if len(edges) else 0


def _no_partials(spectra: Spectra, hz: float) -> NDArray[np.bool_]:
    """Which peaks are no partials of a note."""
    peaks = spectra.peaks[0]
    off = np.abs(peaks - np.maximum(1, np.rint(peaks / hz)) * hz)
    own = np.minimum(np.maximum(0.8 * spectra.resolution, 0.012 * peaks), 0.22 * hz) * 1.1
    # Half a semitone at least: a voice that wavers strays from its own partials, a second note lies further
    # off.
    return np.asarray(off > np.maximum(own, np.minimum(0.03 * peaks, 0.3 * hz)))


def second_db(spectra: Spectra, hz: float, proposals: Floats) -> float:
    """How loud the loudest other of the proposed notes sounds beside one, in dB by what only one of the two explains.

    Another note counts where ``FEWEST_OWN`` peaks are its partials only and ``COMPLETE`` of its partials are there;
    what lies nearer than ``BESIDE`` is the same note, played by a section. -50 where there is none.
    """
    foreign = _no_partials(spectra, hz)
    partial, fits = belonging(spectra, proposals[np.abs(proposals / hz - 1) > BESIDE])
    theirs = (fits > FITTING) & (partial <= len(PARTIALS))
    power = 10 ** (spectra.peaks[2] / 10)
    loudest = 0.0
    for numbers, there in zip(partial, theirs, strict=True):
        own = there & foreign
        if own.sum() >= FEWEST_OWN and len(set(numbers[there])) >= COMPLETE * numbers[there].max():
            loudest = max(loudest, float(power[own].sum()))
    return float(10 * np.log10(loudest / max(float(power[~foreign].sum()), 1e-9) + 1e-5))


def _foreign(spectra: Spectra, hz: float) -> tuple[float, float, float]:
    """Of peaks that are no partials: the highest's level, their power against all (both dB), their share of
    weight.
    """
    _, weight, level = spectra.peaks
    foreign = _no_partials(spectra, hz)
    if not foreign.any():
        return -50.0, -50.0, 0.0
    power = 10 ** (level / 10)
    share = 10 * np.log10(power[foreign].sum() / power.sum() + 1e-5)
    return float(level[foreign].max()), float(share), float(weight[foreign].sum() / weight.sum())


def _pair(spectra: Spectra, hz: float) -> tuple[float, float]:
    """How little speaks against two notes with this one as their missing root: occupancy and level (dB) of
    the rest.
    """
    inside = hz * PARTIALS < spectra.highest
    there = occupancy(spectra, np.array([hz]))[0]
    at: Floats = PARTIALS.astype(np.float64) * hz
    level = 20 * np.log10(spectra.long[spectra.bins(at)] / spectra.long.max() + 1e-4)
    least, lowest = 2.0, 40.0
    for a, b in PAIRS:
        theirs = ((PARTIALS % a == 0) | (PARTIALS % b == 0)) & inside
        low = 2 * b >= PARTIALS
        rest = inside & ~theirs & low
        if rest.any() and theirs.sum() > 1:
            least = min(least, there[rest].mean() / (there[theirs & low].mean() + 0.05))
            lowest = min(lowest, level[rest].max() - level[theirs].max())
    return float(least), max(float(lowest), -40.0)


def course(spectra: Spectra, hz: float) -> Course:
    """How steadily a note at ``hz`` is held through the recording, and how alone it is."""
    cents, prominence, excess = _follow(spectra, hz)
    middle = float(np.median(cents))
    near = np.abs(cents - middle) < NEAR
    count, half = len(cents), len(cents) // 2
    halves = ((cents[:half], near[:half]), (cents[half:], near[half:]))
    run = _longest_run(near)
    highest, power, weight = _foreign(spectra, hz)
    height = float(np.log2(hz / MIDDLE_C))
    pair, pair_level = _pair(spectra, hz)
    features = [
        float(near.mean()),
        min(float(part[1].mean()) for part in halves) if half >= 2 else float(near.mean()),
        run / count,
        float(np.log2(1 + run * SHORT_HOP / spectra.rate)),
        min(float(np.median(np.abs(cents - middle))), 60) / 30,
        min(abs(float(np.median(halves[0][0]) - np.median(halves[1][0]))), 120) / 60 if half >= 2 else 0.0,
        highest / 20,
        power / 20,
        weight,
        min(float(np.sort(excess)[::-1][:4].mean()), 40) / 20,
        float(np.median(prominence)) / 3,
        float(np.log2(spectra.samples / spectra.rate)),
        float(spectra.loud.mean()),
        float(np.std(cents)) / 50,
        height,
        height**2,
        pair,
        pair_level / 20,
        odd_from_even(spectra, hz) / 10,
    ]
    return Course(cents, np.array(features))


def evenness(spectra: Spectra) -> float:
    """The level of the faintest moment against the usual one, 0–1: near 1 for what neither begins nor ends."""
    level = np.sqrt(spectra.power)
    return float(min(1.0, level.min() / max(float(np.median(level)), 1e-12)))
