"""Which note a set of partials belongs to.

Every strong peak, divided by 1 to 10, proposes a note; so does the distance between neighbouring peaks,
which finds a note whose low partials a small microphone has lost. Each proposal is fitted to the peaks,
then described by a few numbers: how much of the sound it explains, how many of the partials it promises are
there, whether only every second or third of them is (then it is an octave or a twelfth too low), whether
anything stands halfway between them (then it is an octave too high). Weights found by fitting, kept in
data/hearing.toml, turn these into one score.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing.spectrum import Floats, Spectra

LOWEST_HZ, TOP_HZ = 40.0, 1_300.0
PARTIALS = np.arange(1, 15)
MIDDLE_C = 261.6
THERE = 0.25  # occupancy from which a partial counts as found
FEATURES = (
    "explained", "explained_amplitude", "occupied", "odd_occupied", "odd_less_even", "others_less_thirds",
    "halfway", "count", "fundamental", "height", "first", "first_height", "explained_power", "explained_root",
    "top_level", "odd_level",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Proposals:
    """Possible notes of one recording: ``hz`` and, for each, its row of ``FEATURES``."""

    hz: Floats
    features: Floats


def tolerance(spectra: Spectra, peaks: Floats, hz: Floats) -> Floats:
    """How far, in Hz, a peak may lie from a partial and belong to it: proposals × peaks."""
    wide = np.maximum(0.8 * spectra.resolution, 0.012 * peaks)
    return np.minimum(wide[None, :], 0.22 * hz[:, None])


def belonging(spectra: Spectra, hz: Floats) -> tuple[Floats, Floats]:
    """Of every peak to every proposal: the partial it would be, and how well it fits (0–1)."""
    peaks = spectra.peaks[0]
    partial = np.maximum(1.0, np.rint(peaks[None, :] / hz[:, None]))
    off = peaks[None, :] - partial * hz[:, None]
    return partial, np.exp(-0.5 * (off / (0.6 * tolerance(spectra, peaks, hz))) ** 2)


def _within(hz: Floats) -> Floats:
    return np.sort(hz[(hz >= LOWEST_HZ) & (hz <= TOP_HZ)])


def propose(spectra: Spectra) -> Proposals | None:
    """All notes worth considering, with what speaks for each; None where no tone stands out at all."""
    peaks, weight, _ = spectra.peaks
    if not len(peaks):
        return None
    order = np.argsort(-weight)
    hz = np.concatenate([(peaks[order[:8], None] / np.arange(1, 11)).ravel(), np.diff(np.sort(peaks[order[:12]]))])
    hz = _within(hz)
    for _ in range(2):
        if not len(hz):
            return None
        partial, fits = belonging(spectra, hz)
        share = weight * fits * (partial <= 24)
        fitted = (share * partial * peaks).sum(axis=1) / np.maximum((share * partial**2).sum(axis=1), 1e-9)
        hz = _within(fitted)
    if not len(hz):
        return None
    hz = hz[np.concatenate([[True], np.diff(np.log(hz)) > 0.004])]
    return Proposals(hz, _features(spectra, hz))


def _share(table: Floats, weights: Floats) -> Floats:
    total: Floats = (table * weights).sum(axis=1) / np.maximum(weights.sum(axis=1), 1e-9)
    return total


def occupancy(spectra: Spectra, hz: Floats) -> Floats:
    """How clearly (0–1) each of partials 1 to 14 of each proposal stands over the noise."""
    at = hz[:, None] * PARTIALS
    return np.clip((spectra.excess_near(at, _reach(spectra, hz, at)) - 6) / 18, 0, 1) * (at < spectra.highest)


def _reach(spectra: Spectra, hz: Floats, at: Floats) -> Floats:
    return np.minimum(np.maximum(0.56 * spectra.resolution, 0.008 * at), 0.15 * hz[:, None])


def _features(spectra: Spectra, hz: Floats) -> Floats:
    _, weight, level = spectra.peaks
    _, fits = belonging(spectra, hz)
    amplitude, power = 10 ** (level / 20), 10 ** (level / 10)
    at = hz[:, None] * PARTIALS
    inside = at < spectra.highest
    there = occupancy(spectra, hz)
    halfway = np.clip((spectra.excess_near(at - 0.5 * hz[:, None], _reach(spectra, hz, at)) - 6) / 18, 0, 1) * inside
    found = there > THERE
    last = np.where(found, PARTIALS, 0).max(axis=1)
    first = np.where(found, PARTIALS, 20).min(axis=1)
    # Low partials may be lost in a small microphone, high ones in the noise: both count for less.
    within = np.maximum(last, 1)[:, None] >= PARTIALS
    expected = within * inside * np.minimum(1, at / 250) * 0.9 ** (PARTIALS - 1)
    odd, third = PARTIALS % 2 == 1, PARTIALS % 3 == 0
    on_odd, on_even = _share(there, expected * odd), _share(there, expected * ~odd)
    on_third, on_others = _share(there, expected * third), _share(there, expected * ~third)
    height = np.log2(hz / MIDDLE_C)
    level_at = np.where(inside, spectra.level_near(at, _reach(spectra, hz, at)), -60)
    return np.stack(
        [
            (weight * fits).sum(axis=1) / weight.sum(),
            (amplitude * fits).sum(axis=1) / amplitude.sum(),
            _share(there, expected),
            on_odd,
            np.minimum(0, on_odd - on_even),
            np.minimum(0, on_others - on_third),
            _share(halfway, expected),
            np.minimum(found.sum(axis=1), 8) / 8,
            there[:, 0] * np.minimum(1, hz / 250),
            height,
            np.log2(first),
            np.log2(first * hz / MIDDLE_C),
            -np.log10(1.003 - np.minimum(1, (power * fits).sum(axis=1) / power.sum())),
            (amplitude**0.5 * fits).sum(axis=1) / (amplitude**0.5).sum(),
            np.where(fits > 0.4, level, -50).max(axis=1) / 20,
            np.minimum(0, level_at[:, odd].max(axis=1) - level_at[:, ~odd].max(axis=1)) / 20,
        ],
        axis=1,
    )


def odd_from_even(spectra: Spectra, hz: float) -> float:
    """Cents, 0 to 25, between the note that its odd partials make and the one that its even ones make.

    They are one note's only if they agree: a faint note an octave below a strong one fills the gaps, seldom exactly.
    """
    peaks, weight, level = spectra.peaks
    partial, fits = belonging(spectra, np.array([hz]))
    share = weight * fits[0] * 10 ** (level / 40) * (partial[0] <= 16)
    found = []
    for rest in (0, 1):
        own = share * (partial[0] % 2 == rest)
        below = float((own * partial[0] ** 2).sum())
        if below <= 1e-6:
            return 0.0
        found.append(float((own * partial[0] * peaks).sum()) / below)
    return min(25.0, abs(1200 * float(np.log2(found[0] / found[1]))))


def refined(spectra: Spectra, hz: float) -> float:
    """The note to a fraction of a cent, from the peaks that are its partials."""
    peaks, weight, level = spectra.peaks
    for _ in range(2):
        partial, fits = belonging(spectra, np.array([hz]))
        share: NDArray[np.float64] = weight * fits[0] * 10 ** (level / 40) * (partial[0] <= 16)
        below = float((share * partial[0] ** 2).sum())
        if below <= 0:
            return hz
        hz = float((share * partial[0] * peaks).sum()) / below
    return hz
