"""Register numbers: which one is free next, and whether one is taken."""

from __future__ import annotations

from typing import Any

from fleet.people.models import School
from fleet.register.models import FormerNumber, Horn
from fleet.register.models.numbers import parts_of


def next_free(school: School) -> str:
    """The number after the highest that begins with the school's prefix, four digits wide or as wide as that one.

    Only a suggestion: `register_horn` looks again with the school's numbers locked.
    """
    prefix = school.number_prefix
    stem, _ = parts_of(prefix)
    highest, width = 0, 4
    for numbers in (Horn.objects.filter(school=school), FormerNumber.objects.filter(school=school)):
        found = numbers.filter(number_stem=stem, number__istartswith=prefix).order_by("-number_tail", "-number")
        for number in found.values_list("number", flat=True)[:50]:
            rest = number[len(prefix) :]
            if rest.isascii() and rest.isdigit():
                if int(rest) > highest:
                    highest, width = int(rest), max(4, len(rest))
                break
    return f"{prefix}{highest + 1:0{width}d}"


def number_is_taken(school: School, number: str, *, besides: Horn | None = None) -> bool:
    """Whether a horn of the school has the number or once had it."""
    stem, tail = parts_of(number)
    same: Any = {"school": school, "number_stem": stem, "number_tail": tail, "number__iexact": number.strip()}
    horns, former = Horn.objects.filter(**same), FormerNumber.objects.filter(**same)
    if besides is not None and besides.pk:
        horns, former = horns.exclude(pk=besides.pk), former.exclude(horn_id=besides.pk)
    return horns.exists() or former.exists()
