"""Looking after a horn, for exactly the valves it has: for the family's card, its loan sheet and the field guide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fleet.workshop.models.faults import catalogue
from identify.core.horns.builds import Build

ORIGIN = "How often is common practice, no source. The school’s own rules come first."
_LINES = (
    "After playing: empty the water, wipe the horn with a soft cloth, put it into its case with nothing loose in it.",
    "Every week: {oil}wash the mouthpiece in lukewarm water with its brush.",
    "Every two weeks: move and grease every slide. Every month: brush the leadpipe, with a teacher’s help.",
    "Never hot water. A stuck slide or mouthpiece goes to the school.",
    "One player, one mouthpiece. If a hand or wrist hurts, stop and tell the teacher.",
)
_OIL = {
    "": "",
    "piston": "take the pistons out one at a time and oil them, and ",
    "rotary": "oil the rotors where you were shown, and ",
    "double-piston": "oil the valves as you were shown, and ",
    "both": "oil the valves as you were shown, and ",
}


@dataclass(frozen=True, slots=True)
class CareTold:
    """`lines` are what is done and when, `cautions` groups of sentences, the general one last. `valves` is `rotary`,
    `piston`, `double-piston`, `both`, "" where there are none, or `unknown`."""

    valves: str
    lines: tuple[str, ...]
    cautions: tuple[tuple[str, ...], ...]


@cache
def care_of(build: Build | None) -> CareTold:
    """The care of a build; where nobody has said what a horn is, no oil is named and every caution is given."""
    valves = _valves(build)
    known = catalogue().cautions
    codes = {
        "": (("pliers",), ("first",)),
        "piston": (("oil",), ("pliers",), ("first",)),
        "double-piston": (("oil",), ("pliers",), ("first",)),
    }.get(valves, (("oil",), ("rotor", "pliers"), ("first",)))
    lines = tuple(line.format(oil=_OIL.get(valves, "")) for line in _LINES)
    return CareTold(valves, lines, tuple(tuple(known[code] for code in group) for group in codes))


def _valves(build: Build | None) -> str:
    if build is None:
        return "unknown"
    kinds = {kind for form in build.forms for kind in form.mechanism}
    return "both" if len(kinds) > 1 else "".join(kinds)
