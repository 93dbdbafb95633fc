"""The horn that is meant by a number, an old number, a label's code or a label's address."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fleet.people.models import School
from fleet.register.models import FormerNumber, Horn
from fleet.register.models.numbers import parts_of

# What may follow the path of an address.
_REST = re.compile(r"[?#].*$")


def horns_told(school: School, typed: Iterable[str]) -> dict[str, Horn]:
    """By what was typed, the horn whose register number, label code or label address it is. One query."""
    asked = {words: words.strip().upper() for words in typed}
    codes = {words: _REST.sub("", number).rstrip("/").rpartition("/")[2] for words, number in asked.items()}
    parts = [parts_of(number) for number in asked.values()]
    here = Horn.objects.at(school)
    by_number = here.filter(number_stem__in={stem for stem, _ in parts}, number_tail__in={tail for _, tail in parts})
    by_code = here.filter(label_code__in=set(codes.values()))
    horns = list((by_number | by_code).order_by("pk")) if asked else []
    numbered = {horn.number.upper(): horn for horn in horns}
    labelled = {horn.label_code: horn for horn in horns}
    found = {words: numbered.get(number) or labelled.get(codes[words]) for words, number in asked.items()}
    return {words: horn for words, horn in found.items() if horn is not None}


def horn_told(school: School, words: str) -> Horn | None:
    """The horn whose register number, now or formerly, label code or label address this is.

    “hn 42” is HN-0042 too, where no other could be meant.
    """
    words = words.strip()
    return horns_told(school, [words]).get(words) or _numbered_before(school, words) or _numbered_loosely(school, words)


def _numbered_before(school: School, words: str) -> Horn | None:
    """The horn that had this number once: an old label still says which it is, since no number is used again."""
    stem, tail = parts_of(words)
    old = FormerNumber.objects.filter(school=school, number_stem=stem, number_tail=tail, number__iexact=words)
    former = old.select_related("horn").first()
    return former.horn if former else None


def _numbered_loosely(school: School, words: str) -> Horn | None:
    """The one horn whose number has the same letters and figures."""
    stem, tail = parts_of(words)
    if not stem or not tail:
        return None
    alike = [
        horn
        for horn in Horn.objects.at(school).filter(number_tail=tail)
        if _letters(horn.number_stem) == _letters(stem)
    ]
    return alike[0] if len(alike) == 1 else None


def _letters(stem: str) -> str:
    return "".join(one for one in stem.casefold() if one.isalnum())
