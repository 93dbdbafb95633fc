"""Fingering charts: what a player presses for every written note, on this build as it stands.

Chosen by the harmonic series and a short convention: which side takes a note stands here, which of its fingerings is
taught in `ways`. This is the usual chart: it agrees with C. Smalley, Double Horn Fingering Dictionary (CC0).
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from identify.core.fingering.by_hand import hand_notes
from identify.core.fingering.stopped import stopped_ways
from identify.core.fingering.teaching import USUAL, Teaching
from identify.core.fingering.trills import Trill, trills
from identify.core.fingering.ways import (
    FAR_OFF,
    LAST_RESORT,
    NOT_TAUGHT,
    Reached,
    Way,
    reaches_of,
    taught,
    taught_partials,
    way_of,
)
from identify.core.horns.air import TUBES, AirColumn
from identify.core.horns.builds import Build, Stand, columns
from identify.core.horns.pitch import Note, PartKey, name_of, parse_note, part_key, sounding

TOP = 84  # written C6
HORN_BOTTOM = 42  # written F#2, the lowest note of the 12-foot F horn above its pedals
_MOST_ALTERNATIVES = 4
# Pedals speak on the 9-foot tube and longer, the shorter first, and with few valves: common practice, no source.
_PEDALS_WITH = ("0", "2", "1", "12", "23")

# From which written note up a double takes its B♭ side: common practice, no source. Teachers change at G♯4 or A4.
_B_FLAT_FROM = 68


@dataclass(frozen=True, slots=True)
class ChartNote:
    """A written note, what it sounds, and its ways, the usual one first; none where it cannot sound.

    `stopped` are the ways to sound it with the bell closed, `trills` those up from it, where the chart shows them.
    """

    written: Note
    sounding: Note
    ways: tuple[Way, ...]
    stopped: tuple[Way, ...] = ()
    trills: tuple[Trill, ...] = ()

    @property
    def sounds(self) -> bool:
        return bool(self.ways)

    @property
    def usual(self) -> Way | None:
        return self.ways[0] if self.ways else None

    @property
    def alternatives(self) -> tuple[Way, ...]:
        return self.ways[1:]


@dataclass(frozen=True, slots=True)
class Chart:
    """Every written note of a build in a stand, rising by semitones."""

    build: Build
    stand: Stand
    part: PartKey
    teaching: Teaching
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


def _ways(sides: tuple[AirColumn, ...], part: PartKey, written: int, high_from: int) -> tuple[Way, ...]:
    """The conventional way, then the few others that are worth teaching, within 35 cents.

    Those taught on another side come first, those on odd partials last.
    """
    midi = written + part.semitones
    usual = {column.tube: taught(column, part, midi) for column in sides}
    at_home = _home(sides, written, high_from)
    chosen = _chosen(sides, usual, at_home, midi)
    if chosen is None:
        return ()
    first = usual[chosen.tube]
    assert first is not None
    home = usual[at_home.tube]
    needs_help = home is None or home.fingering in LAST_RESORT
    found: list[tuple[tuple[bool, bool, int, int], Way]] = []
    for place, column in enumerate(sides):
        if not column.in_tune and not needs_help:
            continue  # an extension is there for the notes that the horn's own tube lacks
        common, spare = taught_partials(column, part)
        for reach in reaches_of(column).get(midi, ()):
            is_usual = reach == usual[column.tube]
            if (column is chosen and is_usual) or abs(reach.cents(midi)) > FAR_OFF:
                continue
            if not is_usual and not _worth_teaching(reach, common | spare):
                continue
            odd = reach.partial not in common | spare
            order = (not is_usual, odd, place if is_usual else 0, reach.rank)
            found.append((order, way_of(column, reach, midi)))
    found.sort(key=lambda pair: pair[0])
    return (way_of(chosen, first, midi), *(way for _, way in found[:_MOST_ALTERNATIVES]))


def _worth_teaching(reach: Reached, taught_here: frozenset[int]) -> bool:
    """Whether players are ever told of it: not of partials between the notes, of 13 and 123 only on the taught ones."""
    if reach.fingering in LAST_RESORT or len(reach.fingering) > 2:
        return reach.partial in taught_here
    return reach.partial not in NOT_TAUGHT


def _chosen(
    sides: tuple[AirColumn, ...], usual: dict[str, Reached | None], home: AirColumn, midi: int
) -> AirColumn | None:
    """The side convention takes for the note, or None where none sounds it."""
    first = usual[home.tube]
    if first is not None and first.fingering not in LAST_RESORT:
        return home
    # Only 13 or 123 is left, or nothing: another long side takes it where that is truer (common practice, no
    # source: low C♯ and D of a double are played on its B♭ side, low C of a B♭ horn on its extension).
    best = home if first is not None else None
    for column in sides:
        other = usual[column.tube]
        if other is None or TUBES[column.tube].pedal > TUBES["Bb9"].pedal:
            continue
        now = usual[best.tube] if best is not None else None
        if now is None or abs(other.cents(midi)) < abs(now.cents(midi)):
            best = column
    return best


def _home(sides: tuple[AirColumn, ...], written: int, high_from: int) -> AirColumn:
    """The side a note is at home on: that at rest, and a shorter one from where convention changes to it.

    A double that stands in B♭ is a B♭ horn at rest, and taught as one: its F side is for the notes that the
    B♭ side lacks. A side without slides of its own, or behind a finger, is no home.
    """
    home, *others = sides
    shorter = [column for column in others if column.in_tune and not column.fingers and column.pedal > home.pedal]
    for column in sorted(shorter, key=lambda column: column.pedal):
        if written >= (_B_FLAT_FROM if column.tube == "Bb9" else high_from):
            home = column
    return home


@lru_cache(maxsize=256)
def chart(build: Build, stand: Stand, teaching: Teaching = USUAL) -> Chart:
    """The chart of a build in a stand as it is taught, from the lowest written note to C6.

    Horns with a 9-foot tube or longer are listed from written F♯2, so that notes they cannot reach are named.
    Partial 1 is used by the layer of pedals only: it is no true resonance (Moore, Acoustics Today 12(4), 2016).
    """
    own = part_key(build.reads_in(stand))
    part = part_key("C") if teaching.bass_clef and bass_clef_matters(build) else own
    if not build.valves:
        return Chart(build, stand, part, teaching, _without_valves(build, stand, part))
    sides, high_from = _sides(build, stand, teaching), parse_note(teaching.high_from).midi
    pedals = _pedals(sides) if "pedals" in teaching.layers else {}
    notes: list[ChartNote] = []
    lower = own.semitones - part.semitones
    for written in range(HORN_BOTTOM - 12 + lower, TOP + 1 + lower):
        name = name_of(written)
        heard = sounding(name, part.code)
        midi = heard.midi
        ways = _ways(sides, part, written, high_from) or _last_of_all(build, stand, teaching, midi)
        stopped = stopped_ways(build, stand, part, midi, teaching.thumb) if "stopped" in teaching.layers else ()
        trilled = trills(sides, midi, ways[0]) if ways and "trills" in teaching.layers else ()
        notes.append(ChartNote(name, heard, ways, stopped, trilled))
    lowest = next(place for place, note in enumerate(notes) if note.sounds)
    if min(round(column.pedal) for column in sides) - own.semitones <= HORN_BOTTOM:
        lowest = min(lowest, 12)
    for place, note in enumerate(notes):
        if not note.sounds and (way := pedals.get(note.sounding.midi)):
            notes[place] = replace(note, ways=(way,))
            lowest = min(lowest, place)
    return Chart(build, stand, part, teaching, tuple(notes[lowest:]))


def _last_of_all(build: Build, stand: Stand, teaching: Teaching, midi: int) -> tuple[Way, ...]:
    """123 with the stopping lever, for the one note below 123 that a B♭ horn has so, about 43 cents sharp.

    J. Ericson, "From the Mailbag: Single B-flat, F Extension - Why?", Horn Matters: its chromatic notes end at B♭2.
    """
    for column in columns(build, stand) if teaching.thumb else ():
        if column.lowered and column.tube == "Bb9" and len(column.thumb) == 1 and len(column.valves) == 3:
            for reach in reaches_of(column).get(midi, ()):
                if reach.fingering == "123" and reach.partial == 2 and -FAR_OFF <= reach.cents(midi) <= 60:
                    return (way_of(column, reach, midi),)
    return ()


def _pedals(sides: tuple[AirColumn, ...]) -> dict[int, Way]:
    """Sounding MIDI note to the way its pedal is played."""
    found: dict[int, Way] = {}
    for column in sorted(sides, key=lambda column: -column.pedal):
        if column.in_tune and not column.fingers and column.pedal <= TUBES["Bb9"].pedal:
            for rank, fingering in enumerate(one for one in _PEDALS_WITH if column.has(one)):
                meant = column.meant(fingering)
                midi = round(column.pedal) - meant
                reach = Reached(rank, fingering, 1, column.pedal - meant, column.pedal - column.lowers(fingering))
                found.setdefault(midi, way_of(column, reach, midi))
    return found


def _sides(build: Build, stand: Stand, teaching: Teaching) -> tuple[AirColumn, ...]:
    """The air columns a chart uses, that at rest first."""
    # A stopping slide serves stopped notes only, which a fingering chart of open notes leaves out.
    return tuple(
        column for column in columns(build, stand) if not column.lowered and (teaching.thumb or not column.thumb)
    )


def bass_clef_matters(build: Build) -> bool:
    """Whether parts for it are met in the bass clef too, sounding as written ("Baritone horn", Wikipedia)."""
    return build.reads == "Bb low"


def thumb_matters(build: Build, stand: Stand) -> bool:
    """Whether pressing no thumb lever leaves a side out."""
    return len(_sides(build, stand, USUAL)) > len(_sides(build, stand, Teaching(thumb=False)))


def _without_valves(build: Build, stand: Stand, part: PartKey) -> tuple[ChartNote, ...]:
    notes, pedal = [], TUBES[stand.tube].pedal
    for written in range(48, TOP + 1):  # from C3, partial 2 of every crook
        name = name_of(written)
        sounds = sounding(name, part.code)
        ways = tuple(
            Way("0", (), note.partial, note.cents, stand.tube, note.hand)
            for note in hand_notes(sounds.midi - pedal)
            if build.crooked or not note.hand
        )
        notes.append(ChartNote(name, sounds, ways))
    return tuple(notes)
