"""Air columns: tubes, partials, valves, and what a fingering sounds.

All pitches are MIDI numbers (fractional where not tempered), all lengths are ratios: c/2f never gives the
length of a real horn, ratios of lengths do.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from identify.core.horns.pitch import midi_to_hz
from identify.core.horns.speech import _s

# Fingerings of three valves, by how much they lower. 3 lowers as much as 12 and is read as 12.
FINGERINGS = ("0", "2", "1", "12", "23", "13", "123")
FINGERING_SEMITONES = {"0": 0, "2": 1, "1": 2, "12": 3, "23": 4, "13": 5, "123": 6}
HIGHEST_PARTIAL = 16


@dataclass(frozen=True, slots=True)
class Tube:
    """An air column.

    `pedal` is the MIDI number of partial 1, `key` the note it is named after, `name` its usual name.
    """

    code: str
    pedal: int
    key: str
    name: str

    @property
    def words(self) -> str:
        """Its name in the language of the page."""
        return _s(self.name)

    @property
    def pedal_hz(self) -> float:
        """Frequency of partial 1 in Hz.

        It is a reckoning point only: the pedal itself is no true resonance.
        """
        return midi_to_hz(self.pedal)

    def length_over(self, other: "Tube") -> float:
        """How many times as long as another tube this one is."""
        return float(2.0 ** ((other.pedal - self.pedal) / 12.0))


TUBES: dict[str, Tube] = {
    tube.code: tube
    for tube in (
        Tube("C16", 24, "C", "16-foot C"),
        Tube("D14", 26, "D", "14-foot D"),
        Tube("Eb13", 27, "Eb", "13½-foot E♭"),
        Tube("E12", 28, "E", "12¾-foot E"),
        Tube("F12", 29, "F", "12-foot F"),
        Tube("G10", 31, "G", "10¾-foot G"),
        Tube("A9", 33, "A", "9¾-foot A"),
        Tube("Bb9", 34, "Bb", "9-foot B♭"),
        Tube("Eb6", 39, "Eb", "6¾-foot E♭"),
        Tube("F6", 41, "F", "6-foot F"),
        Tube("G", 43, "G", "5¼-foot G"),
        Tube("Bb4", 46, "Bb", "4½-foot B♭"),
    )
}

# Partials whose fingerings are taught. The 7th, 11th, 13th and 14th are out of tune; on the 9-foot tube the
# 5th and 10th are avoided too, except where nothing but 13 or 123 is left (C. Smalley, Double Horn Fingering
# Dictionary, CC0).
_USUAL_LONG = frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16})
_USUAL_NINE_FOOT = frozenset({2, 3, 4, 6, 8, 9, 12})
_USUAL_SHORT = frozenset({2, 3, 4, 5, 6, 8})


# 123 with valves tuned singly is 54 cents sharp and is lipped or pulled into tune; further off it is another
# note.
_LIPPED = 65.0


def usual_partials(tube: str) -> frozenset[int]:
    """The partials that taught fingerings use on a tube."""
    pedal = TUBES[tube].pedal
    if pedal <= TUBES["F12"].pedal + 2:
        return _USUAL_LONG
    return _USUAL_NINE_FOOT if pedal <= TUBES["Bb9"].pedal else _USUAL_SHORT


def partial_semitones(partial: int) -> float:
    """How far partial k lies above the pedal, in semitones. Raises ValueError below 1."""
    if partial < 1:
        raise ValueError(f"Partials are counted from 1, not {partial}.")
    return 12.0 * math.log2(partial)


def valve_fraction(semitones: float) -> float:
    """Tubing to add to an open tube of length 1 to lower it by `semitones`.

    Negative for an ascending valve.
    """
    return float(2.0 ** (semitones / 12.0) - 1.0)


def lowered_by(fractions: Iterable[float]) -> float:
    """Semitones by which an open tube of length 1 is lowered when all these fractions are added at once."""
    return 12.0 * math.log2(1.0 + sum(fractions))


@dataclass(frozen=True, slots=True)
class Valve:
    """A finger valve: `name` as written in fingerings, `semitones` it is meant to lower, `fraction` of added
    tubing.

    The fraction is of the air column the valve works on, so a valve borrowed from a shorter tube lowers by
    less than it is meant to. `semitones` is negative for an ascending valve, which takes tubing away.
    """

    name: str
    semitones: int
    fraction: float


@dataclass(frozen=True, slots=True)
class AirColumn:
    """The air column that sounds while certain levers are pressed, and the finger valves that work on it.

    `tube` is a code of TUBES; `lowered` says by how many semitones a stopping slide lowers it (0 without
    one). `thumb` and `fingers` name the pressed levers and change valves, both empty at rest. `in_tune` is
    False where the valves belong to a shorter tube and play sharp.
    """

    tube: str
    valves: tuple[Valve, ...]
    thumb: tuple[str, ...] = ()
    fingers: tuple[str, ...] = ()
    lowered: float = 0.0
    in_tune: bool = True

    @property
    def pedal(self) -> float:
        """MIDI number of the column's pedal, stopping slide included."""
        return TUBES[self.tube].pedal - self.lowered

    @property
    def valve_names(self) -> frozenset[str]:
        return frozenset(valve.name for valve in self.valves)

    def has(self, fingering: str) -> bool:
        """Whether this column has every valve a fingering such as `12` needs. `0` is always possible."""
        return fingering == "0" or set(fingering) <= self.valve_names

    def meant(self, fingering: str) -> int:
        """Whole semitones a fingering is meant to lower. Raises KeyError for a valve this column has not."""
        by_name = {valve.name: valve.semitones for valve in self.valves}
        return 0 if fingering == "0" else sum(by_name[name] for name in fingering)

    def lowers(self, fingering: str) -> float:
        """Semitones a fingering really lowers, valves tuned singly.

        Raises KeyError for a valve it has not.
        """
        by_name = {valve.name: valve.fraction for valve in self.valves}
        return 0.0 if fingering == "0" else lowered_by(by_name[name] for name in fingering)

    def sharpness(self, fingering: str) -> float:
        """Cents by which a fingering is sharp of what it is meant to lower."""
        return 100.0 * (self.meant(fingering) - self.lowers(fingering))

    def pitch(self, fingering: str, partial: int) -> float:
        """Fractional MIDI number of a partial with a fingering."""
        return self.pedal - self.lowers(fingering) + partial_semitones(partial)


@dataclass(frozen=True, slots=True)
class Sounding:
    """A note as a column sounds it.

    Fingering, partial, and `cents` from the note asked for (plus is sharp).
    """

    fingering: str
    partial: int
    cents: float


@lru_cache(maxsize=4096)
def sounding(column: AirColumn, fingering: str, midi: int) -> Sounding:
    """The partial (2 to 16) with which a fingering comes nearest to a MIDI note."""
    return min(
        (
            Sounding(fingering, partial, 100.0 * (column.pitch(fingering, partial) - midi))
            for partial in range(2, HIGHEST_PARTIAL + 1)
        ),
        key=lambda heard: abs(heard.cents),
    )


def ways(column: AirColumn, midi: int, within: float = 35.0) -> tuple[Sounding, ...]:
    """Every fingering that sounds a MIDI note within so many cents, the one that changes the tube least
    first.

    12 and 3 count once, as 12, while both lower alike; a column with a fourth valve has its fingerings as
    well.
    """
    found = (sounding(column, fingering, midi) for fingering in fingerings_of(column))
    return tuple(heard for heard in found if abs(heard.cents) <= within)


def usual_way(column: AirColumn, midi: int) -> Sounding | None:
    """The taught fingering of a note: of those meant to sound it from a usual partial, the one that lowers
    least.

    Valves are taken as meant (so an uncompensated extension, whose valves play sharp, is taught the
    fingerings of its tube); the cents returned are those it really sounds. None where no usual partial of the
    column reaches the note.
    """
    for fingering in fingerings_of(column):
        for partial in sorted(usual_partials(column.tube)):
            meant = column.pedal + partial_semitones(partial) - column.meant(fingering)
            cents = 100.0 * (column.pitch(fingering, partial) - midi)
            if abs(meant - midi) <= 0.20 and (abs(cents) <= _LIPPED or not column.in_tune):
                return Sounding(fingering, partial, cents)
    return None


@lru_cache(maxsize=1024)
def fingerings_of(column: AirColumn) -> tuple[str, ...]:
    """All fingerings of a column, the one that changes the tube least first.

    3 alone is left out where 12 lowers as much.
    """
    names = sorted(column.valve_names)
    every = ["0"]
    for name in names:
        every += [name if had == "0" else had + name for had in every]
    meant = {fingering: column.meant(fingering) for fingering in every}
    if {"1", "2", "3"} <= set(names) and meant["3"] == meant["12"]:
        every = [fingering for fingering in every if "3" not in fingering or {"1", "2"} & set(fingering)]
    rising = {valve.name for valve in column.valves if valve.semitones < 0}
    return tuple(
        sorted(
            every,
            key=lambda fingering: (bool(rising & set(fingering)), abs(meant[fingering]), len(fingering)),
        )
    )
