"""Whether two names of a room or a class are most probably one name, written in two ways."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from functools import lru_cache

from fleet.exchange.reading.cells import folded

ALIKE = 0.85
Name = tuple[str, ...]


@lru_cache(maxsize=4096)
def _parts(name: Name) -> tuple[str, str]:
    """Figures and single letters, which tell 5a from 5b, and the words beside them."""
    text = folded(" ".join(name))
    for spelled, letter in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        text = text.replace(spelled, letter)
    marks = [word for word in text.split() if len(word) == 1 or any(letter.isdigit() for letter in word)]
    return "".join(marks), " ".join(word for word in text.split() if word not in marks)


def likeness(one: Name, other: Name) -> float:
    """From 0 to 1: 0 where their figures differ; two that differ by a word beside a figure are alike enough. Of two
    names in parts each part is held to its own: another shelf of the same room is another place."""
    if len(one) > 1 and all(one) and all(other):
        return min(likeness((part,), (its,)) for part, its in zip(one, other, strict=True))
    (marks, words), (others, beside) = _parts(one), _parts(other)
    if marks != others or not (marks or words):
        return 0.0
    if marks and not (words and beside):
        return 1.0 if words == beside else ALIKE
    return difflib.SequenceMatcher(None, words, beside).ratio()


def closest(name: Name, known: Sequence[Name]) -> Name | None:
    """The known name that this one is most probably meant as, if any is near enough."""
    best = max(known, key=lambda one: likeness(name, one), default=None)
    return best if best is not None and likeness(name, best) >= ALIKE else None
