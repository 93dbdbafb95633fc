"""How the pages say what the core reckons: chances in words, and the kinds of horn still possible."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from identify.core.hearing.open_notes import Played
from identify.core.horns.builds import Build
from identify.core.horns.pitch import both_names, hz_to_midi
from identify.core.reasoning.numbers import percent
from identify.core.reasoning.ranking import Candidate
from identify.core.reasoning.verdict import STILL_POSSIBLE, Verdict

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


# The same where nothing fits: however far one horn is ahead of the others, it is no more than the nearest.
_NEARNESS = (
    (0.65, "by far the nearest"),
    (0.35, "near"),
    (0.10, "less near"),
    (0.00, "not near"),
)


def in_words(chance: float) -> str:
    """A chance (0 to 1) as people speak of it, without false precision."""
    return next(words for least, words in _IN_WORDS if chance >= least)


def likely(chance: float, verdict: Verdict) -> str:
    """The chance of a horn in words; where the observations do not fit together, how near it comes instead."""
    if verdict.fits:
        return in_words(chance)
    return next(words for least, words in _NEARNESS if chance >= least)


def how_sure(chance: float) -> str:
    words = in_words(chance)
    return f"{words[0].upper()}{words[1:]}: {percent(chance)}."


def sure_of(verdict: Verdict) -> str:
    """How sure the leading horn is, in a sentence; never that it is, while something does not fit."""
    if verdict.likely:
        return f"Likely: {percent(verdict.leading.as_said)}."
    if verdict.fits:
        return how_sure(verdict.leading.as_said)
    return "Open until the answers fit." if verdict.clash else "Open until what was heard fits."


def notes_in_words(notes: Iterable[Played]) -> str:
    """Notes heard as they sound and as they are read: `F3 (written C4), B♭3 (written F4)`."""
    return ", ".join(both_names(round(hz_to_midi(note.hz))) for note in notes)


@dataclass(frozen=True, slots=True)
class KindShown:
    """A kind of horn that is still possible and how likely it is, in words."""

    name: str
    likely: str


@dataclass(frozen=True, slots=True)
class Possible:
    """Kinds of horn still possible, the likeliest first, how many are not shown, left, and known at all."""

    shown: tuple[KindShown, ...]
    left_out: int
    kinds: int
    of: int


def possible(verdict: Verdict) -> Possible:
    """What the observations leave, by kind of horn: two ways of standing count as one kind here."""
    kinds = _by_build(verdict.candidates)
    left = [one for one in kinds if one[1] >= STILL_POSSIBLE] or kinds[:1]
    shown = tuple(KindShown(build.name, likely(chance, verdict)) for build, chance in left[:_SHOWN])
    return Possible(shown, len(left) - len(shown), len(left), len(kinds))


def _by_build(candidates: Iterable[Candidate]) -> list[tuple[Build, float]]:
    chances: dict[str, float] = {}
    builds: dict[str, Build] = {}
    for one in candidates:
        builds[one.build.code] = one.build
        chances[one.build.code] = chances.get(one.build.code, 0.0) + one.probability
    return sorted(((builds[code], chance) for code, chance in chances.items()), key=lambda kind: -kind[1])
