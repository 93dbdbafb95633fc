"""The horn that is meant by a number, an old number, a label's code or a label's address."""

from __future__ import annotations

import re

from fleet.people.models import School
from fleet.register.models import FormerNumber, Horn
from fleet.register.models.numbers import parts_of


def horn_told(school: School, words: str) -> Horn | None:
    """The horn whose register number, now or formerly, label code or label address this is."""
    words = words.strip()
    found = Horn.objects.at(school).numbered(words) or _numbered_before(school, words)
    if found is not None:
        return found
    code = words.rstrip("/").rpartition("/")[2].upper()
    labelled = Horn.objects.at(school).filter(label_code=code).first() if code else None
    return labelled or _numbered_loosely(school, words)


def _numbered_before(school: School, words: str) -> Horn | None:
    """The horn that had this number once: an old label still says which it is, since no number is used again."""
    stem, tail = parts_of(words)
    old = FormerNumber.objects.filter(school=school, number_stem=stem, number_tail=tail, number__iexact=words)
    former = old.select_related("horn").first()
    return former.horn if former else None


def _numbered_loosely(school: School, words: str) -> Horn | None:
    """The one horn whose number has the same letters and figures: “hn 42” is HN-0042 where no other could be meant."""
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


LABEL = re.compile(r"/h/([0-9A-Za-z]{4,12})/?(?:[?#].*)?$")


def horn_typed(school: School, words: str) -> Horn | None:
    """The horn of a register number or of a label's address, of this school."""
    label = LABEL.search(words.strip())
    horns = Horn.objects.at(school)
    return horns.filter(label_code=label[1].upper()).first() if label else horns.numbered(words)


def horns_typed(school: School, typed: set[str]) -> dict[str, Horn]:
    """Horns by the number or label code typed for them. One query."""
    stems = {parts_of(one)[0] for one in typed}
    tails = {parts_of(one)[1] for one in typed}
    by_number = Horn.objects.at(school).filter(number_stem__in=stems, number_tail__in=tails)
    by_code = Horn.objects.at(school).filter(label_code__in=typed)
    found: dict[str, Horn] = {}
    for horn in (by_number | by_code).order_by("pk"):
        for name in (horn.label_code.upper(), horn.number.upper()):
            if name in typed:
                found[name] = horn
    return found
