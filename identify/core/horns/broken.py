"""What can be wrong with a horn in hand, as states of a build: how often, in words, and what it does to the air.

Rates and words are in data/broken.toml. What no check of the walk can show (a frozen slide, a bent leadpipe) is no
state.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from identify.core import DATA
from identify.core.horns.air import TUBES, AirColumn, Valve, lowered_by, valve_fraction
from identify.core.horns.builds import Build, Lever, Stand, column_with, main_lever
from identify.core.horns.catalogue import DataError, read_table
from identify.core.horns.speech import _s

KINDS = (
    "thumb-off", "thumb-reversed", "valve-dead", "valve-down", "valve-reversed", "slides-crossed", "low", "side-low",
    "bell", "blocked",
)  # fmt: skip
_PLACES = ("first", "second", "third", "fourth", "fifth")
_SEMITONE = 1.0
_MOST = 0.05


@dataclass(frozen=True, slots=True)
class Wrong:
    """One thing that goes wrong: how often (`rate`), what is said of the part, what to look at, where that is from."""

    kind: str
    rate: float
    words: str
    look: str
    origin: str


@dataclass(frozen=True, slots=True)
class State:
    """A state of a build: something is wrong with its `part` ("first valve").

    `place` is the valve's number, `tube` the side's, where it is about one.
    """

    wrong: Wrong
    part: str
    place: int = 0
    tube: str = ""

    @property
    def kind(self) -> str:
        return self.wrong.kind

    @property
    def code(self) -> str:
        """What tells it from other states of the horn, such as `valve-down-1`."""
        about = str(self.place or "") or self.tube
        return f"{self.kind}-{about}" if about else self.kind

    @property
    def clause(self) -> str:
        """Such as `its thumb string is off`."""
        return _s("its %(part)s %(wrong)s") % {"part": _s(self.part), "wrong": _s(self.wrong.words)}

    @property
    def words(self) -> str:
        """The same behind a horn's name: `whose thumb string is off`."""
        return _s("whose %(part)s %(wrong)s") % {"part": _s(self.part), "wrong": _s(self.wrong.words)}


def read_broken(path: Path) -> dict[str, Wrong]:
    """Read a file of what goes wrong, all of KINDS. Raises DataError with file, entry and reason."""
    raw = read_table(path)
    if set(raw) != set(KINDS):
        odd = sorted(set(raw) ^ set(KINDS))[0]
        raise DataError(path.name, odd, "is missing" if odd in KINDS else "is nothing that is reckoned with")
    found = {}
    for kind, table in raw.items():
        if not isinstance(table, dict) or set(table) != {"rate", "words", "look", "origin"}:
            raise DataError(path.name, kind, "must state rate, words, look and origin, and nothing else")
        rate = table["rate"]
        if isinstance(rate, bool) or not isinstance(rate, int | float) or not 0.0 < rate <= _MOST:
            raise DataError(path.name, kind, f"rate is {rate!r}, but must be a number above 0 and up to {_MOST}")
        if not all(isinstance(table[name], str) and table[name].strip() for name in ("words", "look", "origin")):
            raise DataError(path.name, kind, "words, look and origin must be some text")
        found[kind] = Wrong(kind, float(rate), table["words"], table["look"], table["origin"])
    return found


@lru_cache(maxsize=1)
def wrongs() -> dict[str, Wrong]:
    return read_broken(DATA / "broken.toml")


def states_of(build: Build) -> Iterator[State]:
    """Every state of a build that has the part; whether a check can show it is not asked here."""
    known, strings = wrongs(), "string" in build.linkage

    def state(kind: str, part: str, place: int = 0, tube: str = "") -> State:
        return State(known[kind], part, place, tube)

    if main_lever(build):
        yield state("thumb-off", "thumb string" if strings else "thumb linkage")
        # Where a horn can be strung both ways, the other way is its other stand.
        if strings and not build.reversible:
            yield state("thumb-reversed", "thumb string")
    for place, _semitones in enumerate(build.valves, start=1):
        part = f"{_PLACES[place - 1]} valve"
        yield state("valve-dead", part, place)
        yield state("valve-down", part, place)
        if strings:
            yield state("valve-reversed", part, place)
    if len(build.valves) > 1:
        yield state("slides-crossed", "first two slides")
    if not build.crooked:
        yield state("low", "main slide")
    if len(build.own_sets) > 1:
        for side in build.own_sets:
            yield state("side-low", f"{TUBES[side.tube].key.replace('b', '♭')} side", tube=side.tube)
    if build.bell:
        yield state("bell", "bell")
    yield state("blocked", "tube")


def column_of(build: Build, stand: Stand, state: State | None, pressed: tuple[Lever, ...] = ()) -> AirColumn:
    """The air column that sounds with these levers pressed, in this state."""
    if state is None:
        return column_with(build, stand, pressed)
    main = main_lever(build)
    if main and state.kind.startswith("thumb-"):
        others = tuple(lever for lever in pressed if lever is not main)
        moved = state.kind == "thumb-reversed" and main not in pressed
        pressed = (*others, main) if moved else others
    return _altered(column_with(build, stand, pressed), state)


def _altered(column: AirColumn, state: State) -> AirColumn:
    valves, here = column.valves, state.place - 1
    if state.kind == "low" or (state.kind == "side-low" and state.tube == column.tube):
        return _longer(column, valve_fraction(_SEMITONE))
    if state.kind == "slides-crossed":
        first, second, *rest = valves
        crossed = replace(second, name=first.name), replace(first, name=second.name)
        return replace(column, valves=(*crossed, *rest))
    if not state.kind.startswith("valve-"):
        return column
    valve = valves[here]
    idle = (*valves[:here], Valve(valve.name, 0, 0.0), *valves[here + 1 :])
    if state.kind == "valve-dead":
        return replace(column, valves=idle)
    if state.kind == "valve-down":
        return _longer(replace(column, valves=idle), valve.fraction)
    turned = (*valves[:here], Valve(valve.name, -valve.semitones, -valve.fraction), *valves[here + 1 :])
    return _longer(replace(column, valves=turned), valve.fraction)


def _longer(column: AirColumn, fraction: float) -> AirColumn:
    """The column with so much tubing more at rest, as a fraction of it."""
    valves = tuple(replace(valve, fraction=valve.fraction / (1.0 + fraction)) for valve in column.valves)
    return replace(column, lowered=column.lowered + lowered_by([fraction]), valves=valves)
