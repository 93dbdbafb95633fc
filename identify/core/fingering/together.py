"""Which horns play together: the same fingerings for the same written notes, no lever pressed."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cache

from identify.core.fingering.charts import chart
from identify.core.fingering.teaching import Teaching
from identify.core.horns.air import TUBES
from identify.core.horns.builds import Build, Stand
from identify.core.horns.pitch import name_of, part_key
from identify.core.horns.speech import _s

# A class plays in this range; lower and higher, horns of one pattern may differ by a fourth valve.
_RANGE = tuple(name_of(midi).name for midi in range(60, 80))  # written C4 to G5


@dataclass(frozen=True, slots=True)
class Member:
    """A horn of a class, or `many` alike: `name` is whatever the caller knows it by."""

    name: Hashable
    build: Build
    stand: Stand
    many: int = 1


@dataclass(frozen=True, slots=True)
class Change:
    """A stand change that brings a horn in line with the largest set."""

    member: Member
    to: Stand


@cache
def shared_fingering(build: Build, stand: Stand) -> tuple[str, ...]:
    """Equal for horns that read the same parts with the same fingers: the part's key, then note by note."""
    at_rest = chart(build, stand, Teaching(thumb=False))
    ways = (at_rest.at(note).usual for note in _RANGE)
    return (build.reads_in(stand), *(f"{way.fingering} {way.hand}" if way else "" for way in ways))


def pattern_in_words(build: Build, stand: Stand) -> str:
    """Such as: fingered like the F horn, parts in F."""
    part = part_key(build.reads_in(stand))
    key = part.code.split()[0].replace("b", "♭")
    if not build.valves:
        words = _s("without valves, %(key)s crook") if build.crooked else _s("without valves, in %(key)s")
        return words % {"key": _s(key)}
    patterns = {
        36: _s("fingered like the F horn, parts in %(key)s"),
        41: _s("fingered like the B♭ horn, parts in %(key)s"),
        48: _s("fingered like a trumpet, parts in %(key)s"),
    }
    own = _s("fingered in a way of their own, parts in %(key)s")
    return patterns.get(TUBES[stand.tube].pedal - part.semitones, own) % {"key": _s(key)}


def in_groups(members: Sequence[Member]) -> list[list[Member]]:
    """Members by shared fingering, the largest set first; of equal ones that which comes first."""
    found: dict[tuple[str, ...], list[Member]] = {}
    for member in members:
        found.setdefault(shared_fingering(member.build, member.stand), []).append(member)
    return sorted(found.values(), key=lambda one: -sum(member.many for member in one))


def changes(members: Sequence[Member]) -> list[Change]:
    """Every change of one horn's stand that brings it in line with the largest set."""
    grouped = in_groups(members)
    if len(grouped) < 2:
        return []
    first = grouped[0][0]
    wanted = shared_fingering(first.build, first.stand)
    return [
        Change(member, stand)
        for other in grouped[1:]
        for member in other
        if member.build.reversible
        for stand in member.build.stands
        if stand != member.stand and shared_fingering(member.build, stand) == wanted
    ]
