"""A labelled set of clips from a seed: steady notes with what they sound, and clips that hold no single
steady note.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from identify.core.hearing.sound import read_sound
from tests.bench.hearing import spoil
from tests.bench.hearing.render import PROGRAMS, RATE, Font, Samples, render, sounding_hz

VELOCITIES = (50, 80, 110)
SPEECH = Path("/usr/share/asterisk/sounds")
SPEECH_PACKAGES = (
    "asterisk-core-sounds-en-wav",
    "asterisk-core-sounds-fr-wav",
    "asterisk-core-sounds-it-wav",
)
NOT_NOTES = ("speech", "noise", "two notes", "one after another", "siren", "knocks", "hum")
# Two notes an octave, a twelfth or two octaves apart share every partial: no microphone can count them.
APART = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 15, 16, 17)


@dataclass(frozen=True, eq=False)
class Clip:
    """``hz`` is what the clean clip sounds, or None where no single steady note is held."""

    samples: Samples
    rate: int
    hz: float | None
    kind: str
    how: tuple[str, ...]
    what: str = ""

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


class Larder:
    """The rendered notes of one font, read once."""

    def __init__(self, font: Font, store: Path, varied: bool = False) -> None:
        self.font, self.varied = font, varied
        self.notes = {
            (program.name, velocity): render(font, program, velocity, store)
            for program in PROGRAMS
            for velocity in VELOCITIES
        }
        self.unusable = 0

    def cut(
        self, dice: spoil.Dice, seconds: float, name: str | None = None, note: int | None = None
    ) -> tuple[Samples, float, str]:
        """A stretch of a note, the Hz it sounds and the program. Draws again where the font has nothing
        usable there.
        """
        shares = np.array([program.share for program in PROGRAMS])
        while True:
            program = (
                next((p for p in PROGRAMS if p.name == name), None)
                or PROGRAMS[int(dice.choice(len(PROGRAMS), p=shares / shares.sum()))]
            )
            key = note if note is not None else int(dice.integers(program.lowest, program.highest + 1))
            whole = self.notes[program.name, int(dice.choice(VELOCITIES))][key]
            late = float(dice.choice([0.0, dice.uniform(0, max(0.0, len(whole) / RATE - seconds))]))
            part = whole[int(late * RATE) : int((late + seconds) * RATE)]
            if self.varied:
                part = spoil.varied(part, RATE, dice)
            hz = sounding_hz(part, 440 * 2 ** ((key - 69) / 12))
            if hz is not None:
                return part, hz, program.name
            self.unusable += 1
            note = None


def steady(larder: Larder, dice: spoil.Dice, shortest: float) -> Clip:
    """One held note on its way through a room and a telephone."""
    seconds = float(np.exp(dice.uniform(np.log(shortest), np.log(3.4))))
    part, hz, what = larder.cut(dice, seconds)
    cents = float(dice.uniform(-50, 50))
    part, hz = spoil.stretch(part, cents), hz * 2 ** (cents / 1200)
    how: tuple[str, ...] = ()
    if dice.random() < 0.25 and seconds > 0.8:
        part = spoil.scoop(part, RATE, float(dice.uniform(-150, 60)), float(dice.uniform(0.05, 0.25)))
        how = ("scoop",)
    others, _, _ = larder.cut(dice, 3.4)
    spoilt = spoil.spoil(part, RATE, dice, others)
    return Clip(spoilt.samples, spoilt.rate, hz, "note", how + spoilt.how, what)


def _two_notes(larder: Larder, dice: spoil.Dice, seconds: float) -> Samples:
    name = str(dice.choice(["horn", "horn", "trombone"]))
    low = int(dice.integers(45, 56))  # so that the upper one stays within the trombone's notes
    first, _, _ = larder.cut(dice, seconds, name, low)
    second, _, _ = larder.cut(dice, seconds, name, low + int(dice.choice(APART)))
    length = min(len(first), len(second))
    balance = 10 ** (float(dice.uniform(-6, 6)) / 20) * spoil.rms(first) / max(spoil.rms(second), 1e-9)
    return (first[:length] + second[:length] * balance).astype(np.float32)


def _in_turn(larder: Larder, dice: spoil.Dice, seconds: float) -> Samples:
    """Two to five different notes in a row, equally loud, none of them more than about half of the clip."""
    count = int(dice.integers(2, 6))
    lengths = dice.uniform(0.8, 1.2, count)
    lengths = np.minimum(lengths / lengths.sum(), 0.55) * seconds
    keys = int(dice.integers(48, 72)) + dice.permutation(np.arange(-6, 7))[:count]
    parts = []
    for length, key in zip(lengths, keys, strict=True):
        part, _, _ = larder.cut(dice, float(length), "horn", int(key))
        parts.append(part / max(spoil.rms(part), 1e-9))
    return np.concatenate(parts).astype(np.float32)


def _hum(dice: spoil.Dice, seconds: float) -> Samples:
    """The mains and what hangs on it: 50 or 60 Hz, or twice that, with a handful of partials, and hiss."""
    time = np.arange(int(seconds * RATE)) / RATE
    base = float(dice.choice([50, 60, 100, 120])) * float(dice.uniform(0.9985, 1.0015))
    out = 0.3 * spoil.noise(len(time), dice, 1.0)
    for k in range(1, int(dice.integers(2, 9))):
        out += float(dice.uniform(0.1, 1)) / k * np.sin(2 * np.pi * (base * k * time + float(dice.uniform())))
    return (out * 0.01).astype(np.float32)


def _knocks(dice: spoil.Dice, seconds: float) -> Samples:
    """Slides knocked, cases shut: short rings of several unrelated tones."""
    length = int(seconds * RATE)
    out = np.zeros(length, dtype=np.float32)
    for _ in range(int(dice.integers(2, 8))):
        at = int(dice.integers(0, max(1, length - RATE // 5)))
        time = np.arange(min(RATE // 2, length - at)) / RATE
        for _ in range(int(dice.integers(2, 6))):
            ring = np.sin(2 * np.pi * float(dice.uniform(120, 3000)) * time) * np.exp(
                -time / float(dice.uniform(0.005, 0.06))
            )
            out[at : at + len(time)] += (ring * float(dice.uniform(0.1, 1))).astype(np.float32)
    return out


def _speech(dice: spoil.Dice, seconds: float, files: list[Path]) -> Samples:
    parts: list[Samples] = []
    while sum(len(part) for part in parts) < seconds * RATE:
        sound = read_sound(files[int(dice.integers(len(files)))].read_bytes())
        parts.append(spoil.resampled(sound.samples, sound.rate, RATE))
    return np.concatenate(parts)[: int(seconds * RATE)]


def not_a_note(kind: str, larder: Larder, dice: spoil.Dice, speech: list[Path]) -> Clip:
    """A clip in which no single steady note is held, of one of the ``NOT_NOTES``."""
    seconds = float(np.exp(dice.uniform(np.log(0.6), np.log(3.4))))
    if kind == "speech":
        part = _speech(dice, seconds, speech)
    elif kind == "noise":
        part = spoil.noise(int(seconds * RATE), dice, float(dice.choice([0, 1, 2, 3])))
        if dice.random() < 0.5:  # breath and traffic have a broad hump
            centre = float(np.exp(dice.uniform(np.log(150), np.log(3000))))
            part = spoil.filtered(part, RATE, centre / 1.5, centre * 1.5, 2)
    elif kind == "two notes":
        part = _two_notes(larder, dice, seconds)
    elif kind == "one after another":
        part = _in_turn(larder, dice, seconds)
    elif kind == "hum":
        part = _hum(dice, seconds)
    elif kind == "siren":
        note, _, _ = larder.cut(dice, seconds, "horn")
        part = spoil.slide(note, float(dice.choice([-1, 1])) * float(dice.uniform(300, 1200)))
    else:
        part = _knocks(dice, seconds)
    spoilt = spoil.spoil(part, RATE, dice)
    return Clip(spoilt.samples, spoilt.rate, None, kind, spoilt.how)


def _tone(dice: spoil.Dice, hz: float, seconds: float) -> Samples:
    """A made tone of one to fourteen partials, each weaker than the last, with a beginning and an end."""
    time = np.arange(int(seconds * RATE)) / RATE
    slope, only_odd = float(dice.uniform(0, 12)), dice.random() < 0.15
    out = np.zeros(len(time))
    for k in range(1, int(dice.choice([1, 2, 3, 5, 8, 14])) + 1):
        if k * hz < 5_000 and not (only_odd and k % 2 == 0):
            out += 10 ** (-slope * (k - 1) / 20) * np.sin(2 * np.pi * (k * hz * time + float(dice.random())))
    rise = float(dice.uniform(0.005, 0.1))
    swell = np.minimum(1, time / rise) * np.minimum(1, (seconds - time) / rise)
    return (out * np.clip(swell, 0, 1) * float(dice.uniform(0.05, 1)) / max(np.abs(out).max(), 1e-9)).astype(np.float32)


def plain(seed: int, count: int) -> Iterator[Clip]:
    """Made tones, every fourth clip two of them at once, half of them without any noise at all.

    Only to fit on, so that a tuner's tone or a whistle is no stranger; never scored.
    """
    dice = np.random.default_rng([seed, 4])
    for number in range(count):
        seconds = float(np.exp(dice.uniform(np.log(0.4), np.log(3.4))))
        hz = float(np.exp(dice.uniform(np.log(45), np.log(1100))))
        part, truth = _tone(dice, hz, seconds), hz
        if number % 4 == 3:
            part = part + _tone(dice, hz * 2 ** (float(dice.choice(APART)) / 12), seconds)
        wanted = int(dice.choice(spoil.RATES))
        if dice.random() < 0.5:
            spoilt = spoil.spoil(part, RATE, dice)
        else:
            clean = spoil.resampled(part, RATE, wanted) / max(1.0, float(np.abs(part).max()))
            spoilt = spoil.Spoilt((np.round(clean * 32767) / 32768).astype(np.float32), wanted, ("clean",))
        two = number % 4 == 3
        yield Clip(
            spoilt.samples, spoilt.rate, None if two else truth, "two notes" if two else "note", spoilt.how, "tone"
        )


def speech_files(held_out: bool) -> list[Path]:
    """Prompts to tune on are English, those to report on French and Italian: other people, other words."""
    every = sorted(path for path in SPEECH.glob("*/**/*.wav") if path.stat().st_size > 12_000)
    return [path for path in every if path.relative_to(SPEECH).parts[0].startswith("en") != held_out]


def draw(
    font: Font,
    store: Path,
    seed: int,
    notes: int,
    others: int,
    shortest: float = 0.4,
    varied: bool = False,
) -> Iterator[Clip]:
    """``notes`` clips of steady notes, then ``others`` clips without one, the same for the same seed.

    ``varied`` alters their colour and makes sections of some, to fit on more than one font has; never to score on.
    """
    larder = Larder(font, store, varied)
    dice = np.random.default_rng([seed, sum(map(ord, font.name))])
    speech = speech_files(held_out=font.note != "tuned on")
    for _ in range(notes):
        yield steady(larder, dice, shortest)
    kinds = itertools.cycle(kind for kind in NOT_NOTES if speech or kind != "speech")
    for kind in itertools.islice(kinds, others):
        yield not_a_note(kind, larder, dice, speech)
