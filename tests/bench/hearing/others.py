"""Other pitch finders from the package registries, asked the same question in the same run.

They answer frame by frame; a clip's answer is the median of the frames they call voiced, when those are at
least a quarter of the clip. Each is also shown with a gate that asks seven in ten voiced frames to be
within half a semitone of that median, since none of them was made to say "no single steady note".
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from identify.core.hearing import listening
from identify.core.hearing.sound import Sound
from tests.bench.hearing.clips import Clip
from tests.bench.hearing.spoil import resampled

LOW, HIGH = 70.0, 1_300.0
Frames = tuple[NDArray[np.float64], int]  # Hz of the voiced frames; how many frames there were


@dataclass(frozen=True)
class Finder:
    """``ask`` returns Hz or None, and how sure (0–1); ``timed`` is False where it judges what another has found."""

    name: str
    ask: Callable[[Clip], tuple[float | None, float]]
    timed: bool = True


def ours(clip: Clip) -> tuple[float | None, float]:
    heard = listening.listen(Sound(clip.samples, clip.rate))
    return heard.hz, heard.confidence


def _summed(frames: Frames, gated: bool) -> tuple[float | None, float]:
    voiced, count = frames
    if len(voiced) < max(2, 0.25 * count):
        return None, 0.0
    middle = float(np.median(voiced))
    steady = float((np.abs(1200 * np.log2(voiced / middle)) < 50).mean())
    return (None, steady) if gated and steady < 0.7 else (middle, steady)


def _pair(name: str, frames: Callable[[Clip], Frames]) -> list[Finder]:
    last: list[Frames] = []

    def plain(clip: Clip) -> tuple[float | None, float]:
        last[:] = [frames(clip)]
        return _summed(last[0], False)

    return [
        Finder(name, plain),
        Finder(f"{name}, gated", lambda _: _summed(last[0], True), timed=False),  # of the clip just asked for
    ]


def _swift() -> list[Finder]:
    from swift_f0 import SwiftF0

    detector = SwiftF0(threads=1)

    def frames(clip: Clip) -> Frames:
        result = detector.detect(resampled(clip.samples, clip.rate, 16_000), 16_000, fmin=LOW, fmax=HIGH)
        voiced = (result.confidence > 0.9) & (result.pitch_hz > 0)
        return np.asarray(result.pitch_hz[voiced], dtype=float), len(voiced)

    return _pair("swift-f0", frames)


def _pyin() -> list[Finder]:
    import librosa

    def frames(clip: Clip) -> Frames:
        sound = resampled(clip.samples, clip.rate, 16_000)
        hz, voiced, _ = librosa.pyin(sound, fmin=LOW, fmax=HIGH, sr=16_000)
        return np.asarray(hz[voiced], dtype=float), len(voiced)

    return _pair("librosa pYIN", frames)


def _praat() -> list[Finder]:
    import parselmouth

    def frames(clip: Clip) -> Frames:
        sound = parselmouth.Sound(clip.samples.astype(np.float64), clip.rate)
        hz = sound.to_pitch_ac(pitch_floor=LOW, pitch_ceiling=HIGH).selected_array["frequency"]
        return hz[hz > 0], len(hz)

    return _pair("Praat autocorrelation", frames)


AVAILABLE = (
    ("swift_f0", "swift-f0", _swift),
    ("librosa", "librosa", _pyin),
    ("parselmouth", "praat-parselmouth", _praat),
)


def finders() -> tuple[list[Finder], list[str]]:
    """Ours and those that are installed; the distributions that are not."""
    found, absent = [Finder("ours", ours)], []
    for module, distribution, make in AVAILABLE:
        if importlib.util.find_spec(module):
            found += make()
        else:
            absent.append(distribution)
    return found, absent
