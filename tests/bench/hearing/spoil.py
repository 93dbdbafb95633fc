"""What happens to a note between the bell and the file: detuning, scoops, rooms, noise, telephones,
clipping.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Dice = np.random.Generator

RATES = (8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000)


def stretch(samples: Samples, cents: float) -> Samples:
    """The same sound played faster or slower, so that it sounds ``cents`` higher."""
    ratio = 2 ** (cents / 1200)
    at = np.arange(0, len(samples) - 1, ratio)
    return np.interp(at, np.arange(len(samples)), samples).astype(np.float32)


def scoop(samples: Samples, rate: int, cents: float, seconds: float) -> Samples:
    """Starts ``cents`` off and comes to the note within ``seconds``, as players do."""
    time = np.arange(len(samples)) / rate
    speed = 2 ** (cents * np.exp(-3 * time / seconds) / 1200)
    at = np.cumsum(speed)
    at = at[at < len(samples) - 1]
    return np.interp(at, np.arange(len(samples)), samples).astype(np.float32)


def slide(samples: Samples, cents: float) -> Samples:
    """A steady climb of ``cents`` from beginning to end."""
    speed = 2 ** (cents * np.linspace(0, 1, len(samples)) / 1200)
    at = np.cumsum(speed)
    at = at[at < len(samples) - 1]
    return np.interp(at, np.arange(len(samples)), samples).astype(np.float32)


def _convolve(a: Samples, b: Samples) -> Samples:
    size = 1 << (len(a) + len(b) - 1).bit_length()
    return np.fft.irfft(np.fft.rfft(a, size) * np.fft.rfft(b, size), size)[: len(a)].astype(np.float32)


def room(samples: Samples, rate: int, dice: Dice, decay: float, wet: float) -> Samples:
    """Reverberation by decaying noise; ``decay`` is the time to fall 60 dB, ``wet`` the energy against the
    direct sound.
    """
    time = np.arange(int(decay * rate)) / rate
    tail = dice.standard_normal(len(time)) * 10 ** (-3 * time / decay)
    tail *= np.sqrt(wet / np.sum(tail**2))
    tail[0] = 1.0
    return _convolve(samples, tail.astype(np.float32))


def filtered(samples: Samples, rate: int, low: float, high: float, order: int) -> Samples:
    """Weakens what lies under ``low`` and over ``high`` Hz by ``6 × order`` dB an octave."""
    spectrum = np.fft.rfft(samples)
    hz = np.maximum(np.fft.rfftfreq(len(samples), 1 / rate), 1e-3)
    gain = 1 / np.sqrt(1 + (low / hz) ** (2 * order)) / np.sqrt(1 + (hz / high) ** (2 * order))
    return np.fft.irfft(spectrum * gain, len(samples)).astype(np.float32)


def resampled(samples: Samples, rate: int, wanted: int) -> Samples:
    """At another rate, without folding back."""
    if rate == wanted:
        return samples
    spectrum = np.fft.rfft(samples)
    length = round(len(samples) * wanted / rate)
    out = np.zeros(length // 2 + 1, dtype=complex)
    shared = min(len(out), len(spectrum))
    out[:shared] = spectrum[:shared]
    return (np.fft.irfft(out, length) * (length / len(samples))).astype(np.float32)


def noise(length: int, dice: Dice, slope: float) -> Samples:
    """Noise whose power falls by ``slope`` × 3 dB an octave: 0 white, 1 pink, 2 brown."""
    spectrum = np.fft.rfft(dice.standard_normal(length))
    hz = np.arange(len(spectrum), dtype=float)
    hz[0] = np.inf
    out = np.fft.irfft(spectrum * hz ** (-slope / 2), length)
    return (out / max(float(np.std(out)), 1e-12)).astype(np.float32)


def rms(samples: Samples) -> float:
    return float(np.sqrt(np.mean(np.square(samples, dtype=np.float64)))) if len(samples) else 0.0


def varied(samples: Samples, rate: int, dice: Dice) -> Samples:
    """The same note from another instrument: brighter or duller, with a resonance, or played by a section."""
    if dice.random() < 0.5:
        spectrum = np.fft.rfft(samples)
        octaves = np.log2(np.maximum(np.fft.rfftfreq(len(samples), 1 / rate), 20) / 500)
        hump = float(dice.uniform(-8, 8)) * np.exp(-0.5 * ((octaves - float(dice.uniform(-1, 3))) / 0.6) ** 2)
        gain = np.clip(float(dice.uniform(-6, 6)) * octaves + hump, -40, 40)
        samples = np.fft.irfft(spectrum * 10 ** (gain / 20), len(samples)).astype(np.float32)
    if dice.random() < 0.35:
        parts = [stretch(samples, float(dice.uniform(-9, 9))) for _ in range(int(dice.integers(2, 5)))]
        length = min(len(part) for part in parts)
        shifts = [int(dice.integers(0, max(1, rate // 30))) for _ in parts]
        samples = np.sum([np.roll(part[:length], shift) for part, shift in zip(parts, shifts, strict=True)], axis=0)
    return (samples / max(1.0, float(np.abs(samples).max()))).astype(np.float32)


@dataclass(frozen=True)
class Spoilt:
    samples: Samples
    rate: int
    how: tuple[str, ...]


def spoil(samples: Samples, rate: int, dice: Dice, others: Samples | None = None) -> Spoilt:
    """One path from the bell to the file, drawn at random. ``others`` are players in the next room."""
    how: list[str] = []
    length = len(samples)
    if dice.random() < 0.5:
        samples = room(samples, rate, dice, float(dice.uniform(0.2, 1.8)), float(dice.uniform(0.1, 1.5)))
        how.append("room")
    background = np.zeros(length, dtype=np.float32)
    level = rms(samples)
    if others is not None and len(others) >= length and dice.random() < 0.15:
        far = room(others[:length], rate, dice, 1.0, 4.0)
        background += far * (level * 10 ** (-float(dice.uniform(14, 26)) / 20) / max(rms(far), 1e-9))
        how.append("others playing")
    hiss: Samples | None = None
    if dice.random() < 0.6:
        hiss = noise(length, dice, float(dice.choice([0, 1, 2])))
        how.append("noise")
    snr = float(dice.uniform(5, 35))
    if dice.random() < 0.4:
        low, high = float(dice.uniform(80, 400)), float(dice.uniform(3_000, 7_000))
        order = int(dice.integers(1, 4))
        samples = filtered(samples, rate, low, high, order)
        background = filtered(background, rate, low, high, order)
        hiss = filtered(hiss, rate, low, high, order) if hiss is not None else None
        how.append("telephone")
    wanted = int(dice.choice(RATES))
    samples, background = resampled(samples, rate, wanted), resampled(background, rate, wanted)
    if hiss is not None:  # so many dB under the note in the file itself, after every filter
        hiss = resampled(hiss, rate, wanted)
        background = background + hiss * (rms(samples) * 10 ** (-snr / 20) / max(rms(hiss), 1e-9))
        if snr < 12:
            how.append("loud noise")
    mixed = samples + background
    peak = max(float(np.abs(mixed).max()), 1e-9)
    if dice.random() < 0.15:
        mixed = np.clip(mixed / peak * float(dice.uniform(1.5, 6)), -1, 1)
        how.append("clipped")
    else:
        mixed = mixed / peak * 10 ** (-float(dice.uniform(0, 36)) / 20)
    return Spoilt((np.round(mixed * 32767) / 32768).astype(np.float32), wanted, tuple(how))
