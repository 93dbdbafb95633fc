"""Register numbers: what one looks like, and what it is sorted by."""

from __future__ import annotations

from string import digits

from django.db.models import Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models.trigrams import having

TAKEN = _s_lazy("This register number is taken. A number stays with its horn for ever.")
FORM = r"^[A-Za-z0-9][A-Za-z0-9 /.-]*$"
FORM_SENTENCE = _s_lazy("A register number is made of letters, digits, spaces, dash, dot or slash.")
# So many digits fit a 64-bit column, and no school has more horns than that.
_MOST_DIGITS = 15


def parts_of(number: str) -> tuple[str, int]:
    """`HN-0042` as (`HN-`, 42): sorted by these, HN-9 comes before HN-10. Without digits at the end, 0."""
    number = number.strip().upper()
    tail = number[len(number.rstrip(digits)) :][-_MOST_DIGITS:]
    return number.removesuffix(tail), int(tail or 0)


def also(number: str) -> tuple[str, str]:
    """How else people type a number: HN-0005 as `hn5` and `hn-5`; empty where it is figures or letters only."""
    stem, tail = parts_of(number)
    letters = stem.rstrip("-/. ")
    return (f"{letters}{tail}", f"{stem}{tail}") if letters and tail else ("", "")


def numbered(word: str, way: str = "") -> Q:
    """That the register number at the end of a way holds this word (`having`), or is it (`typed_as`)."""
    return having(word, f"{way}number") | typed_as(word, way)


def typed_as(word: str, way: str = "") -> Q:
    """That it is this word as people type a number: `hn5`, `hn-5` and `5` are HN-0005. None where none is typed so."""
    stem, tail = parts_of(word)
    letters = stem.rstrip("-/. ")
    same = {f"{way}number_stem__startswith": letters, f"{way}number_tail": tail}
    return Q(**same) if tail else Q(pk__in=[])
