"""The spectra that hearing looks at: many short ones to follow the sound, a long one to tell partials apart.

Every recording is first brought to about 11 kHz, which keeps every partial that matters for a horn and
makes the work the same whatever the microphone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RATE = 11_025.0
SHORT, SHORT_HOP = 1_024, 256  # 93 ms every 23 ms
LONG, LONG_HOP, LONG_SIZE = 4_096, 1_024, 8_192  # 372 ms every 93 ms, padded with as much silence
HIGHEST_HZ = 5_200.0  # no partial over this is looked for
QUIET = 10**-2.5  # frames 25 dB under the loud ones are pauses
LEAST_EXCESS = 8.0  # dB over the noise at which a peak counts
MOST_PEAKS = 50
# How far, in dB, the noise is at least said to lie under the highest partial. What a clean recording shows further
# down, such as the faint lines between the partials of a looped sample, is no part of the note.
DEEPEST_FLOOR = 50.0


@dataclass(frozen=True, eq=False)
class Spectra:
    """Of one recording. ``rate`` in samples a second after resampling.

    ``short`` (frames × bins) magnitudes and ``loud`` which of them are no pauses; ``long`` magnitudes
    averaged over the recording with steady sound favoured, ``bin_hz`` apart, and ``excess`` its dB over the
    noise floor; ``resolution`` the width in Hz that a pure tone has in it. ``peaks`` of the long spectrum:
    frequencies in Hz, weights 0–1 by how far they stand out, and levels in dB under the highest.
    """

    rate: float
    samples: int
    short: NDArray[np.float32]
    loud: NDArray[np.bool_]
    power: Floats
    long: Floats
    bin_hz: float
    excess: Floats
    resolution: float
    highest: float
    peaks: tuple[Floats, Floats, Floats]

    def excess_near(self, hz: Floats, reach: Floats) -> Floats:
        """The highest excess within ``reach`` Hz of each frequency."""
        at = (hz[..., None] + reach[..., None] * np.linspace(-1, 1, 9)) / self.bin_hz
        found: Floats = self.excess[np.clip(np.rint(at).astype(int), 0, len(self.excess) - 1)].max(axis=-1)
        return found

    def level_near(self, hz: Floats, reach: Floats) -> Floats:
        """The highest level within ``reach`` Hz of each frequency, in dB under the highest of all, down to -60."""
        at = (hz[..., None] + reach[..., None] * np.linspace(-1, 1, 9)) / self.bin_hz
        found = self.long[np.clip(np.rint(at).astype(int), 0, len(self.long) - 1)].max(axis=-1)
        level: Floats = 20 * np.log10(np.maximum(found / max(float(self.long.max()), 1e-12), 1e-3))
        return level

    def bins(self, hz: Floats) -> NDArray[np.intp]:
        """The bin of the long spectrum nearest to each frequency."""
        return np.clip(np.rint(hz / self.bin_hz).astype(np.intp), 0, len(self.long) - 1)


def _good_size(least: int) -> int:
    """The smallest length from ``least`` that transforms fast: 1, 3, 5, 9 or 15 times a power of two."""
    return min(odd << max(0, -(-least // odd) - 1).bit_length() for odd in (1, 3, 5, 9, 15))


def resampled(samples: NDArray[np.float32], rate: int) -> tuple[NDArray[np.float32], float]:
    """At about ``RATE``, or as it was when slower; rumble under 30 Hz weakened. Returns the exact new
    rate.
    """
    coarse = int(rate // (3 * RATE))
    hz_rate = float(rate)
    if coarse > 1:  # far more than is needed: averaging neighbours first saves memory
        samples = samples[: len(samples) // coarse * coarse].reshape(-1, coarse).mean(axis=1)
        hz_rate = rate / coarse
    size = _good_size(len(samples))
    kept = min(size, 2 * round(size * RATE / hz_rate / 2))
    spectrum = np.fft.rfft(samples - samples.mean(), size)[: kept // 2 + 1]
    hz = np.arange(len(spectrum), dtype=np.float32) * np.float32(hz_rate / size)
    spectrum *= (hz / (hz + 30)) ** 2
    new_rate = hz_rate * kept / size
    out = np.fft.irfft(spectrum, kept)[: int(len(samples) * new_rate / hz_rate)] * (kept / size)
    return out.astype(np.float32), new_rate


def _magnitudes(samples: NDArray[np.float32], width: int, hop: int, size: int) -> NDArray[np.float32]:
    if len(samples) < width:
        samples = np.pad(samples, (0, width - len(samples)))
    frames = np.lib.stride_tricks.sliding_window_view(samples, width)[::hop]
    window = np.hanning(width).astype(np.float32)
    return np.abs(np.fft.rfft(frames * window, size, axis=1)).astype(np.float32)


def _loud(power: Floats) -> NDArray[np.bool_]:
    return np.asarray(power >= np.percentile(power, 90) * QUIET)


def _floor(long: Floats, bin_hz: float) -> Floats:
    """The noise under the partials: the 40th percentile of every 200 Hz, joined by lines."""
    block = max(8, int(200 / bin_hz))
    count = len(long) // block
    low = np.quantile(long[: count * block].reshape(count, block), 0.4, axis=1)
    floor: Floats = np.interp(np.arange(len(long)), (np.arange(count) + 0.5) * block, low)
    return np.asarray(np.maximum(floor, long.max() * 10 ** (-DEEPEST_FLOOR / 20)) + 1e-12)


def _peaks(
    long: Floats, excess: Floats, bin_hz: float, resolution: float, highest: float
) -> tuple[Floats, Floats, Floats]:
    at = np.arange(max(1, int(40 / bin_hz)), min(int(highest / bin_hz), len(long) - 2))
    at = at[(long[at] > long[at - 1]) & (long[at] >= long[at + 1]) & (excess[at] > LEAST_EXCESS)]
    if not len(at):
        return np.empty(0), np.empty(0), np.empty(0)
    level = 20 * np.log10(long[at] / long[at].max())
    at, level = at[level > -50], level[level > -50]
    left, top, right = np.log(long[at - 1]), np.log(long[at]), np.log(long[at + 1])
    hz = (at + 0.5 * (left - right) / (left - 2 * top + right)) * bin_hz
    # What stands beside a much higher peak, no further than its foot reaches, is that peak's side lobe.
    beside = (np.abs(hz[:, None] - hz[None, :]) < 1.5 * resolution) & (level[None, :] > level[:, None] + 12)
    keep = ~beside.any(axis=1)
    at, hz, level = at[keep], hz[keep], level[keep]
    weight = np.clip((excess[at] - 6) / 24, 0.05, 1) * (0.15 + 0.85 * np.clip((level + 45) / 45, 0, 1))
    if len(hz) > MOST_PEAKS:
        best = np.sort(np.argsort(-weight)[:MOST_PEAKS])
        hz, weight, level = hz[best], weight[best], level[best]
    return hz, weight, level


def spectra(samples: NDArray[np.float32], rate: int) -> Spectra:
    """Of a recording of at least a tenth of a second that is not silent all through."""
    sound, new_rate = resampled(samples, rate)
    short = _magnitudes(sound, SHORT, SHORT_HOP, SHORT)
    power = np.square(short).sum(axis=1, dtype=np.float64)
    width = min(LONG, max(SHORT, len(sound)))
    frames = _magnitudes(sound, width, LONG_HOP, LONG_SIZE)
    frames = frames[_loud(np.square(frames).sum(axis=1, dtype=np.float64))]
    # The mean of the square roots: a knock or a word weighs less than what lasts.
    long = np.square(np.sqrt(frames).mean(axis=0, dtype=np.float64))
    bin_hz = new_rate / LONG_SIZE
    excess = 20 * np.log10(np.maximum(long, 1e-12) / _floor(long, bin_hz))
    resolution = 2 * new_rate / width
    highest = min(HIGHEST_HZ, 0.48 * new_rate)
    return Spectra(
        rate=new_rate,
        samples=len(sound),
        short=short,
        loud=_loud(power),
        power=power,
        long=long,
        bin_hz=bin_hz,
        excess=excess,
        resolution=resolution,
        highest=highest,
        peaks=_peaks(long, excess, bin_hz, resolution, highest),
    )
