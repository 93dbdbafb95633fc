"""Builds of horn as physical descriptions. Whatever can be computed from a description is not in it.

A build is added by adding an entry to data/builds.toml; `catalogue.py` reads it and refuses nonsense.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

from identify.core.horns.air import TUBES, AirColumn, Valve, valve_fraction
from identify.core.horns.speech import capital

FRENCH_HORN = "horn"
HANDS = ("left", "right")
MECHANISMS = ("rotary", "piston", "double-piston")
BELLS = ("back", "up", "front")
# How a lever turns its rotor.
LINKAGES = ("string", "mechanical")
MOUTHPIECES = ("horn", "cup")
WRAPS = ("standard", "compact", "oval", "trumpet")
CERTAINTIES = ("sure", "good", "from memory")
ROWS = ("full", "compensating", "borrowed")
LEVER_DUTIES = ("change", "stopping", "extension")
WORKED_BY = ("thumb", "finger")


@dataclass(frozen=True, slots=True)
class Side:
    """One tube of a horn and the valve slides that serve it.

    `row` is `full` (a set of its own), `compensating` (the air runs through the slides of the tube `through`
    and a short set that adds the difference) or `borrowed` (only the slides of `through`, so the valves play
    sharp).
    """

    tube: str
    row: str = "full"
    through: str = ""

    @property
    def has_own_set(self) -> bool:
        return self.row != "borrowed"

    @property
    def set_length(self) -> float:
        """Length of this side's own set for a valve that would double the tube, in lengths of that tube."""
        if self.row == "compensating":
            return 1.0 - TUBES[self.through].length_over(TUBES[self.tube])
        return 1.0 if self.row == "full" else 0.0

    def fraction(self, semitones: float) -> float:
        """Tubing a valve adds to this side, as a fraction of its open tube."""
        whole = valve_fraction(semitones)
        if self.row == "borrowed":
            return whole * TUBES[self.through].length_over(TUBES[self.tube])
        return whole


@dataclass(frozen=True, slots=True)
class Lever:
    """A lever (or a finger valve) that switches the air instead of being part of a fingering.

    `does` is `change` (to the tube `to`, or, with two tubes in `between`, to the one the horn does not stand
    in), `extension` (a change to a longer tube without slides of its own) or `stopping` (lowers the tube `to`
    by `semitones`).
    """

    name: str
    does: str
    to: str = ""
    between: tuple[str, ...] = ()
    semitones: float = 0.0
    worked_by: str = "thumb"
    words: str = ""

    def leads_to(self, tube: str) -> str:
        """The tube that sounds when this lever is pressed while `tube` sounds."""
        if self.does == "stopping":
            return tube
        if self.between:
            return self.between[1 - self.between.index(tube)] if tube in self.between else tube
        return self.to


@dataclass(frozen=True, slots=True)
class Stand:
    """A way a build can stand.

    `name` as spoken of (`F`, `Bb`, `high F`), the tube at rest, how usual it is (0 to 1).
    """

    name: str
    tube: str
    share: float

    @property
    def words(self) -> str:
        return self.name.replace("Bb", "B♭").replace("Eb", "E♭")


@dataclass(frozen=True)
class Build:
    """A kind of horn, described physically. Forms of one build share `code` and differ in `form` ("" is the
    usual one).

    `valves` are the semitones each finger valve lowers (1st, 2nd, 3rd and perhaps a 4th; an ascending valve
    is negative). `hand`, `mechanism`, `bell` and `wrap` list what is met, the usual first, `linkage` how its
    rotors are turned, `mouthpiece` which fits it. `share` is how
    much of the build has this form, `prior` how common the whole build is among a school's horns (a weight,
    not a probability). `reads` is a code of `pitch.PART_KEYS`, or "crook" where the part follows the crook.
    `crooked` builds are whatever crook is put in, so their stand is no lasting mark.
    """

    code: str
    name: str
    about: str
    family: str
    sides: tuple[Side, ...]
    stands: tuple[Stand, ...]
    valves: tuple[int, ...]
    levers: tuple[Lever, ...]
    hand: tuple[str, ...]
    mechanism: tuple[str, ...]
    linkage: tuple[str, ...]
    bell: tuple[str, ...]
    wrap: tuple[str, ...]
    mouthpiece: str
    reads: str
    class_code: str
    prior: float
    certainty: str
    source: str
    form: str = ""
    form_words: str = ""
    share: float = 1.0
    crooked: bool = False
    forms: tuple[Build, ...] = field(default=(), compare=False)

    @property
    def title(self) -> str:
        """Its name as a heading has it."""
        return capital(self.name)

    @property
    def is_french_horn(self) -> bool:
        return self.family == FRENCH_HORN

    @property
    def reversible(self) -> bool:
        """Whether restringing the change valve gives another stand."""
        return len(self.stands) > 1 and not self.crooked

    @property
    def fingered(self) -> int:
        """How many of its valves and levers fingers work, the thumb aside."""
        return len(self.valves) + sum(lever.worked_by == "finger" for lever in self.levers)

    @property
    def valve_count(self) -> int:
        """Valves to be counted: finger valves and the valves behind the levers."""
        return len(self.valves) + len(self.levers)

    @property
    def thumb_levers(self) -> tuple[Lever, ...]:
        return tuple(lever for lever in self.levers if lever.worked_by == "thumb")

    @property
    def own_sets(self) -> tuple[Side, ...]:
        """Sides with a set of valve slides of their own, the set the others are compared with first."""
        return tuple(side for side in self.sides if side.has_own_set) if self.valves else ()

    @property
    def rows(self) -> tuple[Side, ...]:
        """The sides of its rows of valve slides as they lie, from the front to the back.

        The longest tube's lies in front, but a short set that only adds lies behind the one it adds to (J. Q. Ericson,
        “Horn made with the slides in the wrong places”, 2014, and “What is a Compensating Triple?”, Horn Matters; that
        descants and full triples are alike is from memory).
        """
        whole = sorted((side for side in self.own_sets if not side.through), key=lambda side: TUBES[side.tube].pedal)
        added = {side.through: side for side in self.own_sets if side.through}
        return tuple(one for side in whole for one in (side, added.get(side.tube)) if one)

    @property
    def slide_sets(self) -> int:
        return len(self.own_sets)

    def set_ratios(self) -> tuple[float, ...]:
        """Length of every further slide set over the first (a full B♭/F double gives 1.335)."""
        first, *rest = self.own_sets or (None,)
        if first is None:
            return ()
        base = first.set_length
        return tuple(side.set_length * TUBES[side.tube].length_over(TUBES[first.tube]) / base for side in rest if side)

    def stand(self, name: str) -> Stand:
        """The stand of a name such as `F`. Raises KeyError if this build cannot stand so."""
        for stand in self.stands:
            if stand.name == name:
                return stand
        raise KeyError(name)

    def side(self, tube: str) -> Side:
        """The side of a tube. Raises KeyError if this build has no such tube."""
        for side in self.sides:
            if side.tube == tube:
                return side
        raise KeyError(tube)

    def reads_in(self, stand: Stand) -> str:
        """Code of the part key read with this stand; see `pitch.PART_KEYS`."""
        if self.reads != "crook":
            return self.reads
        return {"C16": "C low", "Bb9": "Bb alto"}.get(stand.tube, stand.name)


def stand_name(tube: str, family: str) -> str:
    """How a stand is spoken of: the tube's key; a French horn of 6 feet stands in high F."""
    return "high F" if tube == "F6" and family == FRENCH_HORN else TUBES[tube].key


def _column(build: Build, tube: str, pressed: tuple[Lever, ...]) -> AirColumn:
    side = build.side(tube)
    lowered = sum(lever.semitones for lever in pressed if lever.does == "stopping" and lever.to == tube)
    longer = 1.0 + valve_fraction(lowered)
    return AirColumn(
        tube=tube,
        valves=tuple(
            Valve(str(place), semitones, side.fraction(semitones) / longer)
            for place, semitones in enumerate(build.valves, start=1)
        ),
        thumb=tuple(lever.name for lever in pressed if lever.worked_by == "thumb"),
        fingers=tuple(lever.name for lever in pressed if lever.worked_by == "finger"),
        lowered=lowered,
        in_tune=side.row != "borrowed",
    )


def column_at_rest(build: Build, stand: Stand) -> AirColumn:
    """The air column that sounds with no lever pressed."""
    return _column(build, stand.tube, ())


def column_with(build: Build, stand: Stand, pressed: tuple[Lever, ...]) -> AirColumn:
    """The air column that sounds with these levers pressed.

    A lever to a fixed tube overrides a change between two.
    """
    tube = stand.tube
    for lever in sorted(pressed, key=lambda lever: not lever.between):
        tube = lever.leads_to(tube)
    return _column(build, tube, pressed)


def columns(build: Build, stand: Stand) -> tuple[AirColumn, ...]:
    """Every different air column of a build in a stand: at rest first, then with as few levers as need be."""
    found = [column_at_rest(build, stand)]
    for count in range(1, len(build.levers) + 1):
        for pressed in combinations(build.levers, count):
            column = column_with(build, stand, pressed)
            if all((column.tube, column.lowered) != (had.tube, had.lowered) for had in found):
                found.append(column)
    return tuple(found)


def main_lever(build: Build) -> Lever | None:
    """The thumb lever that is meant by "the thumb lever".

    The first that leads to another tube, else the first.
    """
    levers = build.thumb_levers
    return next((lever for lever in levers if lever.does != "stopping"), levers[0] if levers else None)
