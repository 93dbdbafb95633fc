"""Which parts a horn has, as far as its build tells: a check asks for no thumb lever on a horn that has none."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from django.utils.translation import gettext

from fleet.ground.wording import with_commas
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from identify.core.horns.builds import Build
from identify.core.horns.catalogue import catalogue

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
# Where an entry may say that its fault is, in `at`: a horn has several of these.
PLACED = frozenset({"", "valves", "slides"})
# All that a horn may have of each, for one that nobody has identified; by code, with the words of each.
PLACES = {
    "valves": {
        "1": "1st",
        "2": "2nd",
        "3": "3rd",
        "4": "4th",
        "change": "change",
        "change-2": "2nd change",
        "stopping": "stopping",
    },
    "slides": {"1": "1st", "2": "2nd", "3": "3rd", "4": "4th", "tuning": "tuning"},
}
NOUN = {"valves": "valve", "slides": "slide"}
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


@cache
def without(trait: str) -> tuple[str, ...]:
    """The builds of the catalogue that have no such part."""
    return tuple(code for code, build in catalogue().items() if trait not in _of(build))


def applies(wanted: frozenset[str], horn: Horn) -> bool:
    """Whether a fault that needs these parts can be on this horn."""
    has = fitted(horn)
    return has is None or wanted <= has


def places(at: str, horn: Horn) -> tuple[str, ...]:
    """Where a fault of `at` may be on this horn, by code: its valves, or the valve slides of one set and the tuning
    slide. None where `at` is empty, all there are where nobody has said what the horn is."""
    build = build_of(horn.build)
    if not at or build is None:
        return tuple(PLACES.get(at, ()))
    fingers = max(len(form.valves) for form in (build, *build.forms))
    numbers = tuple(str(number) for number in range(1, fingers + 1))
    if at == "slides":
        return (*numbers, "tuning")
    changes = sum(lever.does != "stopping" for lever in build.levers)
    stops = any(lever.does == "stopping" for form in (build, *build.forms) for lever in form.levers)
    return (*numbers, *("change", "change-2")[:changes], *("stopping",)[:stops])


def in_words(at: str, found: Sequence[str]) -> str:
    """`1st and 3rd valve`; a code that only an earlier version knew as it stands."""
    names = [gettext(PLACES.get(at, {}).get(code, code)) for code in found]
    if not names:
        return ""
    listed = names[-1]
    if names[:-1]:
        listed = gettext("%(some)s and %(last)s") % {"some": with_commas(names[:-1]), "last": names[-1]}
    return gettext(f"%(places)s {NOUN.get(at, '')}".strip()) % {"places": listed}


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
