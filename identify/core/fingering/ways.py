"""The ways one air column has to a note, and which of them is taught.

Taught is the fingering meant to reach the note from a taught partial within 20 cents, the one that lowers least
first, 12 rather than 3; the deviation given is what valves tuned singly really sound.
"""

from dataclasses import dataclass
from functools import lru_cache

from identify.core.horns.air import HIGHEST_PARTIAL, AirColumn, partial_semitones
from identify.core.horns.pitch import PartKey

FAR_OFF = 35.0  # cents; a fingering further off than this is printed only with a warning
LAST_RESORT = frozenset({"13", "123"})
NOT_TAUGHT = frozenset({7, 11, 13, 14, 15})  # partials that lie between the notes, or where players do not count
_TAUGHT_WITHIN = 0.20  # semitones between a taught partial and its note, valves as meant
_TAUGHT_MAY_SHARPEN = 60.0  # cents: 123 (+54) is taught and warned of, four valves at once (+175) are not

# The partials that are taught, by where partial 1 would be written in the part. C2: the tube stands in the
# part's own key, as the F horn's does. C3: half that length in its own key, the trumpet's pattern. F2: the
# 9-foot B♭ tube read in F. B♭2: the high E♭ side read in F. B♭1: a baritone read in the bass clef.
_LONG = (frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16}), frozenset[int]())
_TRUMPET = (frozenset({2, 3, 4, 5, 6, 8}), frozenset[int]())
_TAUGHT: dict[int, tuple[frozenset[int], frozenset[int]]] = {
    36: _LONG,
    48: _TRUMPET,
    34: _TRUMPET,
    41: (frozenset({2, 3, 4, 6, 8, 9, 12}), frozenset({5, 10})),  # 5 and 10 where only 13 or 123 is left
    46: (frozenset({2, 3, 4, 5, 6, 8, 9}), frozenset()),
}


@dataclass(frozen=True, slots=True)
class Way:
    """One way to sound a note.

    `fingering` is the finger valves (`0` is open), `thumb` the thumb levers pressed, `cents` how far the
    model lies from the note (plus is sharp), `hand` is `half` or `stopped` where the right hand makes it.
    """

    fingering: str
    thumb: tuple[str, ...]
    partial: int
    cents: float
    tube: str
    hand: str = ""

    @property
    def far_off(self) -> bool:
        """More than 35 cents from the note: never printed without saying so."""
        return abs(self.cents) > FAR_OFF

    @property
    def warning(self) -> str:
        if not self.far_off:
            return ""
        which = "sharp" if self.cents > 0 else "flat"
        remedy = "pull the slides out or lip it down" if self.cents > 0 else "lip it up"
        return f"{abs(self.cents):.0f} cents {which} as tuned: {remedy}"


def taught_partials(column: AirColumn, part: PartKey) -> tuple[frozenset[int], frozenset[int]]:
    return _TAUGHT.get(round(column.pedal) - part.semitones, _LONG)


@lru_cache(maxsize=256)
def every_fingering(column: AirColumn) -> tuple[str, ...]:
    """All fingerings of a column, that which changes least first, 12 before 3.

    An ascending valve alone counts like the others, so A is 3 alone on such a horn; together with others it comes last.
    """
    every = ["0"]
    for valve in column.valves:
        every += [valve.name if had == "0" else had + valve.name for had in every]
    rising = {valve.name for valve in column.valves if valve.semitones < 0}

    def order(fingering: str) -> tuple[bool, int, bool, bool, int]:
        three_alone = "3" in fingering and not {"1", "2"} & set(fingering) and not rising
        rises = bool(rising & set(fingering))
        return rises and len(fingering) > 1, abs(column.meant(fingering)), rises, three_alone, len(fingering)

    return tuple(sorted(every, key=order))


@dataclass(frozen=True, slots=True)
class Reached:
    """A fingering and partial of a column: what they are `meant` to sound and really sound (MIDI numbers)."""

    rank: int
    fingering: str
    partial: int
    meant: float
    pitch: float

    def cents(self, midi: int) -> float:
        return 100.0 * (self.pitch - midi)


@lru_cache(maxsize=256)
def reaches_of(column: AirColumn) -> dict[int, tuple[Reached, ...]]:
    """Sounding MIDI note to all that comes near it or is meant for it, in the order of `every_fingering`."""
    found: dict[int, list[Reached]] = {}
    for rank, fingering in enumerate(every_fingering(column)):
        meant, lowers = column.meant(fingering), column.lowers(fingering)
        for partial in range(2, HIGHEST_PARTIAL + 1):
            above = column.pedal + partial_semitones(partial)
            reach = Reached(rank, fingering, partial, above - meant, above - lowers)
            for midi in {round(reach.meant), round(reach.pitch)}:
                found.setdefault(midi, []).append(reach)
    return {midi: tuple(reaches) for midi, reaches in found.items()}


def way_of(column: AirColumn, reach: Reached, midi: int) -> Way:
    # A change valve worked by a finger is a valve to the player: it is written among the fingers.
    pressed = "".join(sorted((*column.fingers, *reach.fingering.replace("0", ""))))
    return Way(pressed or "0", column.thumb, reach.partial, reach.cents(midi), column.tube)


def taught(column: AirColumn, part: PartKey, midi: int) -> Reached | None:
    """The fingering taught on one column for a sounding MIDI note, or None where it has none."""
    usual, spare = taught_partials(column, part)
    reaches = reaches_of(column).get(midi, ())
    found = _meant(column, reaches, usual, midi)
    if found is None or found.fingering in LAST_RESORT:
        found = _meant(column, reaches, spare, midi) or found
    if found is not None and (len(column.valves) < 4 or abs(found.cents(midi)) <= FAR_OFF):
        return found
    return _nearest(reaches, usual | spare, midi) or found


def _meant(column: AirColumn, reaches: tuple[Reached, ...], partials: frozenset[int], midi: int) -> Reached | None:
    """Of the fingerings meant to give the note, the one that lowers least; none on valves far too sharp."""
    if not column.in_tune:
        return None
    for reach in reaches:
        fits = reach.partial in partials and abs(reach.meant - midi) <= _TAUGHT_WITHIN
        if fits and column.sharpness(reach.fingering) <= _TAUGHT_MAY_SHARPEN:
            return reach
    return None


def _nearest(reaches: tuple[Reached, ...], partials: frozenset[int], midi: int) -> Reached | None:
    """The fingering that really comes nearest, within 35 cents.

    For valves that play too sharp to be taken at their word: those of a longer tube without slides of its
    own, or four at once.
    """
    near = [reach for reach in reaches if reach.partial in partials and abs(reach.cents(midi)) <= FAR_OFF]
    return min(near, key=lambda reach: (round(abs(reach.cents(midi))), reach.rank), default=None)
