"""A note as a horn would sound it, in the numbers that an oscillator needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from identify.core.horns.pitch import A4_HZ, midi_to_hz

# A horn's tone is strongest about 340 Hz (J. Meyer, Acoustics and the Performance of Music, 2009, on its main
# formant). How fast it falls off on both sides, for a note played neither loud nor soft, is our own estimate.
FORMANT_HZ = 340.0
BELOW, ABOVE = 4.0, 10.0  # dB an octave
FAINTEST = 40.0  # dB under the strongest partial; what is fainter is not heard
HIGHEST_HZ = 5_000.0
CELSIUS = 20.0  # of the air in the horn, for which the lengths of its tubes are reckoned
ZERO_KELVIN = -273.15


@dataclass(frozen=True, slots=True)
class Tone:
    """`hz`, and how strong the note itself and each overtone above it are, the strongest of them 1."""

    hz: float
    partials: tuple[float, ...]


def tone(midi: float, a4: float = A4_HZ) -> Tone:
    """Of a (possibly fractional) MIDI number, with A4 at so many hertz."""
    hz = midi_to_hz(midi, a4)
    levels = [_level(hz * partial) for partial in range(1, max(1, int(HIGHEST_HZ / hz)) + 1)]
    loudest = max(levels)
    heard = [level - loudest for level in levels if level - loudest >= -FAINTEST]
    return Tone(hz, tuple(10 ** (level / 20) for level in heard))


def _level(hz: float) -> float:
    """In dB under the formant."""
    octaves = math.log2(hz / FORMANT_HZ)
    return BELOW * octaves if octaves < 0 else -ABOVE * octaves


def cents_a_degree(celsius: float = CELSIUS) -> float:
    """Cents by which a horn sounds higher for each degree its air is warmer; sound is faster by the root of the
    absolute temperature.
    """
    return 600 * math.log2(1 + 1 / (celsius - ZERO_KELVIN))
