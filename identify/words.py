"""How the pages say what the core reckons: chances in words, builds, what is still possible."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from identify.core.builds import Build
from identify.core.reasoning import STILL_POSSIBLE, Candidate, Verdict

_SHOWN = 6  # kinds listed beside a question before the rest are only counted

_IN_WORDS = (
    (0.98, "as good as certain"),
    (0.90, "very likely"),
    (0.65, "likely"),
    (0.35, "about as likely as not"),
    (0.10, "possible"),
    (0.03, "unlikely"),
    (0.00, "very unlikely"),
)


def in_words(chance: float) -> str:
    """A chance (0 to 1) as people speak of it, without false precision."""
    return next(words for least, words in _IN_WORDS if chance >= least)


def percent(chance: float) -> str:
    """A chance (0 to 1) in whole percent; neither 0 nor 100, which no observation gives."""
    if chance >= 0.995:
        return "over 99 %"
    return "under 1 %" if chance < 0.01 else f"about {round(100 * chance)} %"


def how_sure(chance: float) -> str:
    words = in_words(chance)
    return f"{words[0].upper()}{words[1:]}: {percent(chance)}."


@dataclass(frozen=True, slots=True)
class Named:
    """A candidate as it is spoken of: a phrase, how it stands (or ""), and how likely it is in words."""

    build: Build
    stands_in: str
    likely: str
    percent: str

    @property
    def phrase(self) -> str:
        return f"{self.build.name}, standing in {self.stands_in}" if self.build.reversible else self.build.name

    @property
    def article(self) -> str:
        return "an" if self.build.name[0] in "aeiou" else "a"


def named(one: Candidate) -> Named:
    return Named(one.build, one.stand.words if one.stand else "", in_words(one.probability), percent(one.probability))


@dataclass(frozen=True, slots=True)
class Possible:
    """Kinds of horn still possible, the likeliest first, the number of those not shown, and of all there
    are.
    """

    shown: tuple[Named, ...]
    left_out: int
    kinds: int
    of: int


def possible(verdict: Verdict) -> Possible:
    """What the observations leave, by kind of horn: two ways of standing count as one kind here."""
    kinds = _by_build(verdict.candidates)
    left = [one for one in kinds if one[1] >= STILL_POSSIBLE] or kinds[:1]
    shown = tuple(
        Named(build, " or ".join(stands), in_words(chance), percent(chance)) for build, chance, stands in left[:_SHOWN]
    )
    return Possible(shown, len(left) - len(shown), len(left), len(kinds))


def _by_build(candidates: Iterable[Candidate]) -> list[tuple[Build, float, list[str]]]:
    chances: dict[str, float] = {}
    stands: dict[str, list[str]] = {}
    builds: dict[str, Build] = {}
    for one in candidates:
        code = one.build.code
        builds[code] = one.build
        chances[code] = chances.get(code, 0.0) + one.probability
        if one.stand and one.probability >= STILL_POSSIBLE:
            stands.setdefault(code, []).append(one.stand.words)
    ranked = sorted(chances, key=lambda code: -chances[code])
    return [(builds[code], chances[code], stands.get(code, [])) for code in ranked]
