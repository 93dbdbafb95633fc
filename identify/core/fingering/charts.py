"""Fingering charts: what a player presses for every written note, on this build as it stands.

Chosen by the harmonic series and a short convention. Taught are fingerings meant to reach the note from a
taught partial within 20 cents, the one that lowers least first, 12 rather than 3; the deviation printed is
what valves tuned singly really give. This is the usual chart: it agrees with C. Smalley, Double Horn
Fingering Dictionary (CC0).
"""

from dataclasses import dataclass
from functools import lru_cache

from identify.core.fingering.by_hand import hand_notes
from identify.core.horns.air import HIGHEST_PARTIAL, TUBES, AirColumn, partial_semitones
from identify.core.horns.builds import Build, Stand, columns
from identify.core.horns.pitch import Note, PartKey, name_of, part_key, sounding

TOP = 84  # written C6
HORN_BOTTOM = 42  # written F#2, the lowest note of the 12-foot F horn above its pedals
FAR_OFF = 35.0  # cents; a fingering further off than this is printed only with a warning
_TAUGHT_WITHIN = 0.20  # semitones between a taught partial and its note, valves as meant
_TAUGHT_MAY_SHARPEN = 60.0  # cents: 123 (+54) is taught and warned of, four valves at once (+175) are not
_MOST_ALTERNATIVES = 8

# The partials that are taught, by where partial 1 would be written in the part. C2: the tube stands in the
# part's own key, as the F horn's does. C3: half that length in its own key, the trumpet's pattern. F2: the
# 9-foot B♭ tube read in F. B♭2: the high E♭ side read in F.
_LONG = (frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16}), frozenset[int]())
_TAUGHT: dict[int, tuple[frozenset[int], frozenset[int]]] = {
    36: _LONG,
    48: (frozenset({2, 3, 4, 5, 6, 8}), frozenset()),
    41: (frozenset({2, 3, 4, 6, 8, 9, 12}), frozenset({5, 10})),  # 5 and 10 where only 13 or 123 is left
    46: (frozenset({2, 3, 4, 5, 6, 8, 9}), frozenset()),
}
# From which written note up the shorter side is taken: common practice, no source. Teachers of the double
# horn change at G♯4 or A4; the high sides of descants and triples take over an octave above that, or at G♯4
# where there is no B♭ side between.
_CHANGES_AT = {("F12", "Bb9"): 68, ("F12", "F6"): 68, ("Bb9", "F6"): 80, ("Bb9", "Eb6"): 80}
_LAST_RESORT = frozenset({"13", "123"})


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
        return f"{abs(self.cents):.0f} cents {which} with the slides as tuned: {remedy}"


@dataclass(frozen=True, slots=True)
class ChartNote:
    """A written note, what it sounds, and its ways, the usual one first; none where it cannot sound."""

    written: Note
    sounding: Note
    ways: tuple[Way, ...]

    @property
    def sounds(self) -> bool:
        return bool(self.ways)

    @property
    def usual(self) -> Way | None:
        return self.ways[0] if self.ways else None

    @property
    def at_rest(self) -> Way | None:
        """The first way with no thumb lever pressed: what a class shares."""
        return next((way for way in self.ways if not way.thumb), None)

    @property
    def alternatives(self) -> tuple[Way, ...]:
        return self.ways[1:]


@dataclass(frozen=True, slots=True)
class Chart:
    """Every written note of a build in a stand, rising by semitones."""

    build: Build
    stand: Stand
    part: PartKey
    notes: tuple[ChartNote, ...]

    @property
    def sounding_notes(self) -> tuple[ChartNote, ...]:
        return tuple(note for note in self.notes if note.sounds)

    def at(self, written: str) -> ChartNote:
        """The line of a written note such as `F4`. Raises KeyError outside the chart."""
        for note in self.notes:
            if note.written.name == written:
                return note
        raise KeyError(written)


def _taught_partials(column: AirColumn, part: PartKey) -> tuple[frozenset[int], frozenset[int]]:
    return _TAUGHT.get(round(column.pedal) - part.semitones, _LONG)


@lru_cache(maxsize=256)
def _every_fingering(column: AirColumn) -> tuple[str, ...]:
    """All fingerings of a column, that which lowers least first, an ascending valve last, 12 before 3."""
    every = ["0"]
    for valve in column.valves:
        every += [valve.name if had == "0" else had + valve.name for had in every]
    rising = {valve.name for valve in column.valves if valve.semitones < 0}

    def order(fingering: str) -> tuple[bool, int, bool, int]:
        three_alone = "3" in fingering and not {"1", "2"} & set(fingering) and not rising
        return bool(rising & set(fingering)), abs(column.meant(fingering)), three_alone, len(fingering)

    return tuple(sorted(every, key=order))


@dataclass(frozen=True, slots=True)
class _Reach:
    """A fingering and partial of a column: what they are `meant` to sound and really sound (MIDI numbers)."""

    rank: int
    fingering: str
    partial: int
    meant: float
    pitch: float

    def cents(self, midi: int) -> float:
        return 100.0 * (self.pitch - midi)


@lru_cache(maxsize=256)
def _reaches(column: AirColumn) -> dict[int, tuple[_Reach, ...]]:
    """Sounding MIDI note to all that comes near it or is meant for it, in the order of `_every_fingering`."""
    found: dict[int, list[_Reach]] = {}
    for rank, fingering in enumerate(_every_fingering(column)):
        meant, lowers = column.meant(fingering), column.lowers(fingering)
        for partial in range(2, HIGHEST_PARTIAL + 1):
            above = column.pedal + partial_semitones(partial)
            reach = _Reach(rank, fingering, partial, above - meant, above - lowers)
            for midi in {round(reach.meant), round(reach.pitch)}:
                found.setdefault(midi, []).append(reach)
    return {midi: tuple(reaches) for midi, reaches in found.items()}


def _way(column: AirColumn, reach: _Reach, midi: int) -> Way:
    # A change valve worked by a finger is a valve to the player: it is written among the fingers.
    pressed = "".join(sorted((*column.fingers, *reach.fingering.replace("0", ""))))
    return Way(pressed or "0", column.thumb, reach.partial, reach.cents(midi), column.tube)


def _taught(column: AirColumn, part: PartKey, midi: int) -> _Reach | None:
    """The fingering taught on one column for a sounding MIDI note, or None where it has none."""
    usual, spare = _taught_partials(column, part)
    reaches = _reaches(column).get(midi, ())
    found = _meant(column, reaches, usual, midi)
    if found is None or found.fingering in _LAST_RESORT:
        found = _meant(column, reaches, spare, midi) or found
    if found is not None and (len(column.valves) < 4 or abs(found.cents(midi)) <= FAR_OFF):
        return found
    return _nearest(reaches, usual | spare, midi) or found


def _meant(column: AirColumn, reaches: tuple[_Reach, ...], partials: frozenset[int], midi: int) -> _Reach | None:
    """Of the fingerings meant to give the note, the one that lowers least; none on valves far too sharp."""
    if not column.in_tune:
        return None
    for reach in reaches:
        fits = reach.partial in partials and abs(reach.meant - midi) <= _TAUGHT_WITHIN
        if fits and column.sharpness(reach.fingering) <= _TAUGHT_MAY_SHARPEN:
            return reach
    return None


def _nearest(reaches: tuple[_Reach, ...], partials: frozenset[int], midi: int) -> _Reach | None:
    """The fingering that really comes nearest, within 35 cents.

    For valves that play too sharp to be taken at their word: those of a longer tube without slides of its
    own, or four at once.
    """
    near = [reach for reach in reaches if reach.partial in partials and abs(reach.cents(midi)) <= FAR_OFF]
    return min(near, key=lambda reach: (round(abs(reach.cents(midi))), reach.rank), default=None)


def _ways(sides: tuple[AirColumn, ...], part: PartKey, written: int) -> tuple[Way, ...]:
    """The conventional way, then every other within 35 cents.

    Those taught on another side come first, those on odd partials last.
    """
    midi = written + part.semitones
    taught = {column.tube: _taught(column, part, midi) for column in sides}
    chosen = _chosen(sides, taught, written, midi)
    if chosen is None:
        return ()
    first = taught[chosen.tube]
    assert first is not None
    home = taught[_home(sides, written).tube]
    needs_help = home is None or home.fingering in _LAST_RESORT
    found: list[tuple[tuple[bool, bool, int, int], Way]] = []
    for place, column in enumerate(sides):
        if not column.in_tune and not needs_help:
            continue  # an extension is there for the notes that the horn's own tube lacks
        common, spare = _taught_partials(column, part)
        for reach in _reaches(column).get(midi, ()):
            usual = reach == taught[column.tube]
            if (column is chosen and usual) or abs(reach.cents(midi)) > FAR_OFF:
                continue
            odd = reach.partial not in common | spare
            order = (not usual, odd, place if usual else 0, reach.rank)
            found.append((order, _way(column, reach, midi)))
    found.sort(key=lambda pair: pair[0])
    return (_way(chosen, first, midi), *(way for _, way in found[:_MOST_ALTERNATIVES]))


def _chosen(
    sides: tuple[AirColumn, ...], taught: dict[str, _Reach | None], written: int, midi: int
) -> AirColumn | None:
    """The side convention takes for the note, or None where none sounds it."""
    home = _home(sides, written)
    first = taught[home.tube]
    if first is not None and first.fingering not in _LAST_RESORT:
        return home
    # Only 13 or 123 is left, or nothing: another long side takes it where that is truer (common practice, no
    # source: low C♯ and D of a double are played on its B♭ side, low C of a B♭ horn on its extension).
    best = home if first is not None else None
    for column in sides:
        other = taught[column.tube]
        if other is None or TUBES[column.tube].pedal > TUBES["Bb9"].pedal:
            continue
        now = taught[best.tube] if best is not None else None
        if now is None or abs(other.cents(midi)) < abs(now.cents(midi)):
            best = column
    return best


def _home(sides: tuple[AirColumn, ...], written: int) -> AirColumn:
    """The side a note is at home on: that at rest, and a shorter one from where convention changes to it.

    A double that stands in B♭ is a B♭ horn at rest, and taught as one: its F side is for the notes that the
    B♭ side lacks. A side without slides of its own, or behind a finger, is no home.
    """
    home, *others = sides
    shorter = [column for column in others if column.in_tune and not column.fingers and column.pedal > home.pedal]
    for column in sorted(shorter, key=lambda column: column.pedal):
        if written >= _CHANGES_AT[home.tube, column.tube]:
            home = column
    return home


@lru_cache(maxsize=256)
def chart(build: Build, stand: Stand) -> Chart:
    """The chart of a build in a stand, from the lowest written note to C6.

    Horns with a 9-foot tube or longer are listed from written F♯2, so that notes they cannot reach are named.
    Partial 1 is never used: the pedal is no true resonance (Moore, Acoustics Today 12(4), 2016).
    """
    part = part_key(build.reads_in(stand))
    if not build.valves:
        return Chart(build, stand, part, _of_hand(stand, part))
    # A stopping slide serves stopped notes only, which a fingering chart of open notes leaves out.
    sides = tuple(column for column in columns(build, stand) if not column.lowered)
    notes: list[ChartNote] = []
    for written in range(HORN_BOTTOM - 12, TOP + 1):
        name = name_of(written)
        notes.append(ChartNote(name, sounding(name, part.code), _ways(sides, part, written)))
    lowest = next(place for place, note in enumerate(notes) if note.sounds)
    if min(round(column.pedal) for column in sides) - part.semitones <= HORN_BOTTOM:
        lowest = min(lowest, 12)
    return Chart(build, stand, part, tuple(notes[lowest:]))


def _of_hand(stand: Stand, part: PartKey) -> tuple[ChartNote, ...]:
    notes = []
    for written in range(48, TOP + 1):  # from C3, partial 2 of every crook
        name = name_of(written)
        ways = tuple(Way("0", (), note.partial, note.cents, stand.tube, note.hand) for note in hand_notes(written - 36))
        notes.append(ChartNote(name, sounding(name, part.code), ways))
    return tuple(notes)
