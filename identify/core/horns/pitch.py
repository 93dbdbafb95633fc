"""Pitch.

MIDI numbers, frequencies, note names as musicians spell them, and parts written for transposing horns.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from identify.core.horns.speech import _s, note_name

A4_HZ = 440.0  # ISO 16:1975
TUNED_TO = (440, 442)  # what a school may tune its A to, in Hz
A4_MIDI = 69
_STEPS = "CDEFGAB"
_STEP_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {
    "": 0,
    "#": 1,
    "♯": 1,
    "b": -1,
    "♭": -1,
    "##": 2,
    "x": 2,
    "𝄪": 2,
    "bb": -2,
    "♭♭": -2,
    "𝄫": -2,
    "♮": 0,
}
# How beginners' charts for the horn spell the black keys.
_USUAL_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_NAME = re.compile(r"([A-Ga-g])(##|bb|♭♭|#|♯|b|♭|x|𝄪|𝄫|♮)?(-?[0-9]{1,2})")


class NoSuchNote(ValueError):
    """A note name or part key that cannot be read; the message says what one looks like."""


@dataclass(frozen=True, slots=True)
class Note:
    """A spelled note: step (C to B), alteration in semitones (-2 to 2), octave (C4 is middle C)."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI note number, 60 for C4."""
        return 12 * (self.octave + 1) + _STEP_SEMITONES[self.step] + self.alter

    @property
    def hz(self) -> float:
        """Frequency in Hz in equal temperament at A4 = 440 Hz."""
        return midi_to_hz(self.midi)

    @property
    def name(self) -> str:
        """Plain ASCII name, such as `Bb3`."""
        return f"{self.step}{'#' * max(self.alter, 0)}{'b' * max(-self.alter, 0)}{self.octave}"

    @property
    def letters(self) -> str:
        """The name by letters, such as `B♭3`."""
        sign = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}[self.alter]
        return f"{self.step}{sign}{self.octave}"

    @property
    def display(self) -> str:
        """Name for reading, such as `B♭3`, and `b` in German."""
        return note_name(self)

    def __str__(self) -> str:
        return self.name


@dataclass(frozen=True, slots=True)
class PartKey:
    """How a part is written: `semitones` and diatonic `steps` from the written note to the sounding one."""

    code: str
    semitones: int
    steps: int
    words: str


# Written to sounding. "F" is -7 semitones and -4 steps: MusicXML 4.0 `transpose` for a horn part; the rest
# follow from the interval between C and the key of the part. "Bb" is the treble clef of trumpets and
# flugelhorns (and of the tenor Wagner tuba), "Bb low" that of the baritone, "Bb alto" the natural horn's
# shortest common crook.
PART_KEYS: dict[str, PartKey] = {
    key.code: key
    for key in (
        PartKey("C", 0, 0, "sounds as written"),
        PartKey("Bb", -2, -1, "sounds a tone lower than written"),
        PartKey("Bb low", -14, -8, "sounds a ninth lower than written"),
        PartKey("Bb alto", -2, -1, "sounds a tone lower than written"),
        PartKey("A", -3, -2, "sounds a minor third lower than written"),
        PartKey("G", -5, -3, "sounds a fourth lower than written"),
        PartKey("F", -7, -4, "sounds a fifth lower than written"),
        PartKey("E", -8, -5, "sounds a minor sixth lower than written"),
        PartKey("Eb", -9, -5, "sounds a major sixth lower than written"),
        PartKey("D", -10, -6, "sounds a minor seventh lower than written"),
        PartKey("C low", -12, -7, "sounds an octave lower than written"),
    )
}


def midi_to_hz(midi: float, a4: float = A4_HZ) -> float:
    """Frequency in Hz of a (possibly fractional) MIDI number, equal temperament, with A4 at so many hertz."""
    return a4 * math.pow(2.0, (midi - A4_MIDI) / 12.0)


def hz_to_midi(hz: float) -> float:
    """Fractional MIDI number of a frequency in Hz. Raises ValueError unless `hz` is positive and finite."""
    if not (math.isfinite(hz) and hz > 0):
        raise ValueError(f"A frequency must be a positive number of hertz, not {hz!r}.")
    return A4_MIDI + 12.0 * math.log2(hz / A4_HZ)


def cents_between(low_hz: float, high_hz: float) -> float:
    """Interval from one frequency to another in cents; 1200 is an octave up."""
    return 100.0 * (hz_to_midi(high_hz) - hz_to_midi(low_hz))


def parse_note(text: str) -> Note:
    """Read a note name such as `Bb3`, `B♭3` or `F#4`. Raises NoSuchNote."""
    found = _NAME.fullmatch(text.strip())
    if not found:
        raise NoSuchNote(f"{text!r} is not a note name; one looks like Bb3 or F#4, where C4 is middle C.")
    step, accidental, octave = found.groups()
    return Note(step.upper(), _ACCIDENTALS[accidental or ""], int(octave))


def name_of(midi: int) -> Note:
    """The note of a MIDI number as beginners' horn charts spell it: C♯ E♭ F♯ A♭ B♭."""
    name = _USUAL_NAMES[midi % 12]
    return Note(name[0], _ACCIDENTALS[name[1:]], midi // 12 - 1)


def other_spelling(note: Note) -> Note:
    """The same black key by its other name, such as D♭4 for C♯4; a white key as it is."""
    if not note.alter:
        return note
    return _moved(note, 0, note.alter)


def part_key(code: str) -> PartKey:
    """The part key of a code such as `F`. Raises NoSuchNote."""
    try:
        return PART_KEYS[code]
    except KeyError:
        raise NoSuchNote(f"{code!r} is no key a part is written in; known are {', '.join(PART_KEYS)}.") from None


def _moved(note: Note, semitones: int, steps: int) -> Note:
    place = _STEPS.index(note.step) + steps
    step, octave = _STEPS[place % 7], note.octave + place // 7
    moved = Note(step, note.midi + semitones - Note(step, 0, octave).midi, octave)
    usual = name_of(moved.midi)
    return moved if abs(moved.alter) < 2 and usual.alter else usual


def sounding(written: Note, part: str = "F") -> Note:
    """What a written note of a part sounds, a black key spelled as the part's transposition spells it.

    A white key keeps its own name: A♭2 in E♭ sounds B1, which is read as no C♭2.
    """
    key = part_key(part)
    return _moved(written, key.semitones, key.steps)


def written(sounding_note: Note, part: str = "F") -> Note:
    """How a sounding note is written in a part; the inverse of `sounding`."""
    key = part_key(part)
    return _moved(sounding_note, -key.semitones, -key.steps)


def both_names(midi: int, part: str = "F") -> str:
    """A sounding note as it is read in both ways: ``A3 (written E4)``, with real accidentals; `part` is a part key."""
    note = name_of(midi)
    return _s("%(sounding)s (written %(written)s)") % {
        "sounding": note.display,
        "written": written(note, part).display,
    }


TEST_NOTE = parse_note("Bb3")  # sounding; written F4, the first space, in a part in F
