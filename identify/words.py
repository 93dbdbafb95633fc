"""How the pages say what the core reckons: chances in words, and the kinds of horn still possible."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _s

from identify.asked import _s_lazy
from identify.core.hearing.notes import Played
from identify.core.horns.builds import Build
from identify.core.horns.pitch import both_names, hz_to_midi
from identify.core.horns.speech import capital
from identify.core.reasoning.numbers import between
from identify.core.reasoning.ranking import Candidate
from identify.core.reasoning.verdict import STILL_POSSIBLE, Verdict

_SHOWN = 6  # kinds listed beside a question before the rest are only counted

_IN_WORDS = (
    (0.98, _s_lazy("as good as certain")),
    (0.90, _s_lazy("very likely")),
    (0.65, _s_lazy("likely")),
    (0.35, _s_lazy("about as likely as not")),
    (0.10, _s_lazy("possible")),
    (0.03, _s_lazy("unlikely")),
    (0.00, _s_lazy("very unlikely")),
)
_UNSETTLED = 0.97


@dataclass(slots=True)
class KindWeighed:
    """A kind in whichever stand, with its chance and the bounds of that."""

    build: Build
    probability: float = 0.0
    least: float = 0.0
    most: float = 0.0


# The same where nothing fits: however far one horn is ahead of the others, it is no more than the nearest.
_NEARNESS = (
    (0.65, _s_lazy("by far the nearest")),
    (0.35, _s_lazy("near")),
    (0.10, _s_lazy("less near")),
    (0.00, _s_lazy("not near")),
)


def in_words(chance: float) -> str:
    """A chance (0 to 1) as people speak of it, without false precision."""
    return str(next(words for least, words in _IN_WORDS if chance >= least))


def _spoken(chance: float, verdict: Verdict) -> str:
    """Nothing is as good as certain before it is settled."""
    return in_words(chance if verdict.settled else min(chance, _UNSETTLED))


def likely(one: Candidate | KindWeighed, verdict: Verdict, *, leads: bool) -> str:
    """The chance in words: at least of what leads, at most of all others. Where the observations do not fit together,
    how near it comes instead."""
    if verdict.fits:
        return _spoken(one.least if leads else one.most, verdict)
    return str(next(words for least, words in _NEARNESS if one.probability >= least))


def how_sure(least: float, most: float) -> str:
    return f"{capital(in_words(least))}: {between(least, most)}."


def sure_of(verdict: Verdict) -> str:
    """How sure the leading horn is, in a sentence; never that it is, while something does not fit."""
    leading = verdict.leading
    if verdict.likely:
        return _s("Likely: %(chance)s.") % {"chance": between(leading.least, leading.most)}
    if verdict.fits:
        return f"{capital(_spoken(leading.least, verdict))}: {between(leading.least, leading.most)}."
    return _s("Open until the answers fit.") if verdict.clash else _s("Open until what was heard fits.")


def notes_in_words(notes: Iterable[Played]) -> str:
    """Notes heard as they sound and as they are read: `F3 (written C4), B♭3 (written F4)`."""
    return _s(", ").join(both_names(round(hz_to_midi(note.hz))) for note in notes)


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
    left = [one for one in kinds if one.probability >= STILL_POSSIBLE] or kinds[:1]
    shown = tuple(KindShown(_s(one.build.name), likely(one, verdict, leads=one is kinds[0])) for one in left[:_SHOWN])
    return Possible(shown, len(left) - len(shown), len(left), len(kinds))


def _by_build(candidates: Iterable[Candidate]) -> list[KindWeighed]:
    """The likeliest first. Bounds of what is either of two add up to bounds again, though not to the nearest."""
    kinds: dict[str, KindWeighed] = {}
    for one in candidates:
        kind = kinds.setdefault(one.build.code, KindWeighed(one.build))
        kind.probability += one.probability
        kind.least += one.least
        kind.most = min(kind.most + one.most, 1.0)
    return sorted(kinds.values(), key=lambda kind: -kind.probability)
