"""Which builds a build is taken for, and the one check that tells the two apart.

Two horns are as alike as the answers their checks are given, mistakes included: the overlap of two spreads of answers
(Bhattacharyya), multiplied over the checks. With the square root of how common the other is, it bounds how often the
one is taken for the other.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import prod, sqrt

from identify.core.horns.builds import Build, Stand
from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import CHECKS
from identify.core.reasoning.expect import Hypothesis, Shares, expected, hypotheses, usual_answer
from identify.core.reasoning.mistakes import chances

# A check of which this much of the answers is the same for both tells nothing that can be relied on.
_SAME = 0.9
_SHOWN = 3
# What is less than this much as likely to be meant as the nearest is not worth a line.
_FAR = 0.02
_RARE = 0.1


@dataclass(frozen=True, slots=True)
class Apart:
    """Another build one may be taken for, and how to tell: `check` is its key, "" where no check tells them apart.

    `mine` and `theirs` are the answers to it, each with the stand it is of where another would answer otherwise.
    """

    other: Build
    check: str
    mine: str = ""
    theirs: str = ""
    my_stand: Stand | None = None
    their_stand: Stand | None = None


@dataclass(frozen=True, slots=True)
class _Shown:
    """A horn and the chance of each answer; a check that means nothing for it is left out."""

    horn: Hypothesis
    answers: dict[str, Shares]


@lru_cache(maxsize=1)
def _every_horn() -> tuple[_Shown, ...]:
    return tuple(
        _Shown(one, {key: chances(one, key) for key in CHECKS if expected(one, key)}) for one in hypotheses(catalogue())
    )


def _same(one: _Shown, other: _Shown, key: str) -> float:
    """0 for answers that have nothing in common, 1 for equal ones or where the check means nothing."""
    mine, theirs = one.answers.get(key), other.answers.get(key)
    if not mine or not theirs:
        return 1.0
    return sum(sqrt(chance * theirs.get(answer, 0.0)) for answer, chance in mine.items())


@lru_cache(maxsize=256)
def taken_for(build: Build) -> tuple[Apart, ...]:
    """The builds this one is most easily taken for, the nearest first: three at most, one at least."""
    mine = [one for one in _every_horn() if one.horn.build.code == build.code]
    nearest: dict[str, tuple[float, _Shown, _Shown]] = {}
    for other in _every_horn():
        code = other.horn.build.code
        if code == build.code:
            continue
        for one in mine:
            alike = prod(_same(one, other, key) for key in CHECKS)
            near = alike * sqrt(one.horn.weight * other.horn.weight * other.horn.build.prior)
            if near > nearest.get(code, (-1.0,))[0]:
                nearest[code] = (near, one, other)
    ranked = sorted(nearest.values(), key=lambda found: -found[0])
    return tuple(_told(one, other) for near, one, other in ranked[:_SHOWN] if near >= _FAR * ranked[0][0])


def _told(one: _Shown, other: _Shown) -> Apart:
    mine, known = (catalogue()[each.horn.build.code] for each in (one, other))
    # What only one of the two has is told by a count, not by what the other would answer if it were asked of it.
    asked = [key for key in CHECKS if makes_sense(mine, key) and makes_sense(known, key)]
    same = {key: _same(one, other, key) for key in asked}
    check = min(same, key=lambda key: same[key])
    said, theirs = (usual_answer(each.horn, check) or "" for each in (one, other))
    if same[check] >= _SAME or said == theirs:
        return Apart(known, "")
    return Apart(known, check, said, theirs, _standing(one.horn, check), _standing(other.horn, check))


def _standing(horn: Hypothesis, check: str) -> Stand | None:
    build = catalogue()[horn.build.code]
    return horn.stand if len({answers_of(build, check, stand) for stand in build.stands}) > 1 else None


def answers_of(build: Build, key: str, stand: Stand) -> tuple[str, ...]:
    """What a check says of a build in a stand, without mistakes: the usual answer first, the rare ones left out."""
    shares: Shares = {}
    for form in build.forms:
        for answer, share in expected(Hypothesis(form, stand), key).items():
            shares[answer] = shares.get(answer, 0.0) + share * form.share
    return tuple(sorted((answer for answer in shares if shares[answer] >= _RARE), key=lambda answer: -shares[answer]))


def makes_sense(build: Build, key: str) -> bool:
    """Whether a check asks of something that the build has, and not whether it is whole."""
    forms: Iterable[Build] = build.forms
    if key in ("thumb", "test_note_thumb"):
        return any(form.thumb_levers for form in forms)
    if key == "crook":
        return not build.valves
    if key == "each_finger":
        return False
    if key in ("second_set", "shared_row"):
        return any(form.slide_sets > 1 for form in forms)
    return bool(build.valves) or key not in ("slide_sets", "hand", "mechanism")
