"""Renders notes of General MIDI programs through fluidsynth, and measures what each rendered note really
sounds.

The Standard MIDI File written here follows the "Standard MIDI Files 1.0" description (MIDI Manufacturers
Association, 1996); programs are those of General MIDI level 1.
"""

from __future__ import annotations

import hashlib
import shutil
import struct
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

RATE = 44_100
HELD, LET_GO = 3.5, 0.5  # seconds a note is held, and then left to die away
TICKS = 480  # a quarter note; at 120 to the minute one second is two of them


@dataclass(frozen=True)
class Font:
    name: str
    path: Path
    package: str
    note: str


FONTS = (
    Font("timgm6mb", Path("/usr/share/sounds/sf2/TimGM6mb.sf2"), "timgm6mb-soundfont", "tuned on"),
    Font("fluid-r3", Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), "fluid-soundfont-gm", "held out"),
    Font(
        "general-lite",
        Path("/usr/share/sounds/sf3/MuseScore_General_Lite.sf3"),
        "musescore-general-soundfont-small",
        "held out; its horns come from the same recordings as fluid-r3's",
    ),
    Font("gm-bank", Path("/usr/share/sounds/sf2/sf_GMbank.sf2"), "csound-soundfont", "held out"),
)


@dataclass(frozen=True)
class Program:
    """A General MIDI program (counted from 0) and the MIDI notes it is asked for."""

    name: str
    number: int
    lowest: int
    highest: int
    share: float


PROGRAMS = (
    Program("horn", 60, 41, 84, 0.60),
    Program("trombone", 57, 41, 72, 0.14),
    Program("tuba", 58, 41, 62, 0.08),
    Program("trumpet", 56, 54, 84, 0.08),
    Program("voices ah", 52, 48, 79, 0.05),
    Program("voices oh", 53, 48, 79, 0.05),
)


def missing() -> list[str]:
    """The Debian packages that rendering needs and this machine lacks."""
    wanted = [font.package for font in FONTS if not font.path.exists()]
    return wanted if shutil.which("fluidsynth") else ["fluidsynth", *wanted]


def _variable(value: int) -> bytes:
    """A MIDI variable-length quantity."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.insert(0, value & 0x7F | 0x80)
    return bytes(out)


def midi_file(program: int, notes: Sequence[tuple[int, int]]) -> bytes:
    """One track of ``(note, velocity)`` one after the other, each held ``HELD`` seconds with ``LET_GO`` of
    rest.
    """
    track = b"\x00\xff\x51\x03" + (500_000).to_bytes(3, "big") + b"\x00" + bytes([0xC0, program])
    rest = 0
    for note, velocity in notes:
        track += _variable(rest) + bytes([0x90, note, velocity])
        track += _variable(round(HELD * 2 * TICKS)) + bytes([0x80, note, 0])
        rest = round(LET_GO * 2 * TICKS)
    track += _variable(rest) + b"\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS) + b"MTrk" + struct.pack(">I", len(track)) + track


def render(font: Font, program: Program, velocity: int, store: Path) -> dict[int, Samples]:
    """Every semitone of a program as mono samples at ``RATE``, ``HELD`` seconds each, dry.

    Kept under ``store`` between runs. Raises ``subprocess.CalledProcessError`` when fluidsynth fails.
    """
    key = hashlib.sha256(f"{font.name} {program} {velocity} {HELD} {LET_GO}".encode()).hexdigest()[:16]
    kept = store / f"{font.name}-{program.number}-{velocity}-{key}.npy"
    notes = list(range(program.lowest, program.highest + 1))
    step, held = round((HELD + LET_GO) * RATE), round(HELD * RATE)
    if kept.exists():
        whole = np.load(kept, mmap_mode="r")
    else:
        store.mkdir(parents=True, exist_ok=True)
        score, raw = kept.with_suffix(".mid"), kept.with_suffix(".raw")
        score.write_bytes(midi_file(program.number, [(note, velocity) for note in notes]))
        subprocess.run(
            ["fluidsynth", "-q", "-n", "-i", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE),
             "-O", "s16", "-E", "little", "-T", "raw", "-F", str(raw), str(font.path), str(score)],
            check=True, capture_output=True,
        )  # fmt: skip
        stereo = np.fromfile(raw, dtype="<i2").reshape(-1, 2).astype(np.float32) / 32768
        whole = np.zeros(step * len(notes), dtype=np.float32)
        mono = stereo.mean(axis=1)[: len(whole)]
        whole[: len(mono)] = mono
        np.save(kept, whole)
        score.unlink()
        raw.unlink()
    return {note: np.asarray(whole[i * step : i * step + held]) for i, note in enumerate(notes)}


def sounding_hz(clean: Samples, nominal: float, rate: int = RATE) -> float | None:
    """What a clean note sounds, looked for only within a semitone of the note that was asked for.

    The centre of power of each partial, so independent of any pitch finder and unable to be an octave out.
    None when nothing sounds there, as happens at the ends of a font's range.
    """
    if float(np.sqrt(np.mean(np.square(clean)))) < 1e-4:
        return None
    size = 1 << (2 * len(clean) - 1).bit_length()
    power = np.abs(np.fft.rfft(clean * np.hanning(len(clean)), size)) ** 2
    bin_hz = rate / size
    guess = nominal
    for reach in (1.06, 1.03, 1.03):
        top = weight = 0.0
        for k in range(1, max(1, min(12, int(5000 / guess))) + 1):
            low, high = int(k * guess / reach / bin_hz), int(k * guess * reach / bin_hz) + 2
            part = power[low:high]
            total = float(part.sum())
            if total > 0:
                centre = float((part * np.arange(low, low + len(part))).sum()) / total * bin_hz
                # A partial counts by its level, and more the higher it is: its cents are the finer ones.
                top += total**0.5 * k * (centre / k)
                weight += total**0.5 * k
        if not weight:
            return None
        guess = top / weight
    inside = outside = 0.0
    for k in range(1, min(12, int(5000 / guess)) + 1):
        low, high = int(k * guess / 1.03 / bin_hz), int(k * guess * 1.03 / bin_hz) + 2
        inside += float(power[low:high].sum())
    outside = float(power[int(50 / bin_hz) : int(5000 / bin_hz)].sum())
    return guess if inside > 0.5 * outside else None
