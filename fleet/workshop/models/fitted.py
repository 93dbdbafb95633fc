"""Which parts a horn has, as far as its build tells: a check asks for no thumb lever on a horn that has none."""

from __future__ import annotations

from functools import cache

from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from identify.core.horns.builds import Build

# What an entry of the fault catalogue may ask for in `applies`.
TRAITS = frozenset(
    {
        "rotors",
        "strings",
        "pistons",
        "upright-pistons",
        "push-rods",
        "levers",
        "valves",
        "thumb",
        "reversible",
        "one-set",
        "more-sets",
        "f-set",
        "bb-set",
        "high-set",
        "screw-bell",
        "stopping",
        "crooks",
        "water-key",
    }
)
SETS = {"F12": "f-set", "Bb9": "bb-set", "F6": "high-set", "Eb6": "high-set"}


def fitted(horn: Horn) -> frozenset[str] | None:
    """The parts this horn has, or None where nobody has said what it is and every part must be asked for.

    A build met in several forms has the parts of all of them: nobody records the form.
    """
    build = build_of(horn.build)
    if build is None:
        return None
    # Of a bell nobody has looked at: horns are made either way, the upright and marching instruments are not.
    may_screw = build.family == "horn" and not build.crooked
    screws = horn.bell == "screw" or (may_screw and horn.bell != "fixed")
    return _of(build) | ({"screw-bell"} if screws else set())


def applies(wanted: frozenset[str], horn: Horn) -> bool:
    """Whether a fault that needs these parts can be on this horn."""
    has = fitted(horn)
    return has is None or wanted <= has


@cache
def _of(build: Build) -> frozenset[str]:
    # A horn without valves is turned round to be emptied.
    traits: set[str] = {"water-key"} if build.valves else {"crooks"} if build.crooked else set()
    for form in (build, *build.forms):
        if form.valves:
            traits.add("valves")
            traits |= {
                trait
                for mechanism in form.mechanism
                for trait in {
                    "rotary": ("rotors", "levers"),
                    "piston": ("pistons", "upright-pistons"),
                    "double-piston": ("pistons", "push-rods", "levers"),
                }[mechanism]
            }
        if "string" in form.linkage:
            traits.add("strings")
        if form.thumb_levers:
            traits.add("thumb")
        if form.reversible:
            traits.add("reversible")
        if any(lever.does == "stopping" for lever in form.levers):
            traits.add("stopping")
        # The short second set of a baritone's fourth valve makes no side of its own.
        if form.slide_sets > 1 and form.thumb_levers:
            traits |= {"more-sets", *(SETS[side.tube] for side in form.own_sets if side.tube in SETS)}
        elif form.slide_sets:
            traits.add("one-set")
    return frozenset(traits)
