"""Register numbers: which one is free next, and whether one is taken."""

from __future__ import annotations

from typing import Any

from django.db.models import Count

from fleet.people.models import School
from fleet.register.models import FormerNumber, Horn
from fleet.register.models.numbers import parts_of


def next_free(school: School) -> str:
    """The number after the highest that begins with the school's prefix, and as wide; the first has four digits.

    A school that never chose a prefix and has numbers of its own goes on with those: after H40 comes H41. Only a
    suggestion: `register_horn` looks again with the school's numbers locked.
    """
    prefix = school.number_prefix
    highest = _highest(school, prefix)
    if highest is None and prefix == School._meta.get_field("number_prefix").default:
        highest = _highest(school, _usual_stem(school))
        prefix = highest[0] if highest else prefix
    digits = highest[1] if highest else "0000"
    return f"{prefix}{int(digits) + 1:0{len(digits)}d}"


def _highest(school: School, prefix: str | None) -> tuple[str, str] | None:
    """The highest number that begins with the prefix, given up or not: what stands before its digits, and those."""
    if prefix is None:
        return None
    stem, _ = parts_of(prefix)
    highest = None
    for numbers in (Horn.objects.filter(school=school), FormerNumber.objects.filter(school=school)):
        found = numbers.filter(number_stem=stem, number__istartswith=prefix).order_by("-number_tail", "-number")
        for number in found.values_list("number", flat=True)[:50]:
            before, digits = number[: len(prefix)], number[len(prefix) :]
            if digits.isascii() and digits.isdigit():
                if highest is None or int(digits) > int(highest[1]):
                    highest = before, digits
                break
    return highest


def _usual_stem(school: School) -> str | None:
    """What stands before the digits of more than half of the school's numbers."""
    horns = Horn.objects.filter(school=school)
    stems = horns.filter(number_tail__gt=0).order_by().values_list("number_stem").annotate(many=Count("pk"))
    usual = stems.order_by("-many").first()
    return usual[0] if usual is not None and usual[1] * 2 > horns.count() else None


def number_is_taken(school: School, number: str, *, besides: Horn | None = None) -> bool:
    """Whether a horn of the school has the number or once had it."""
    stem, tail = parts_of(number)
    same: Any = {"school": school, "number_stem": stem, "number_tail": tail, "number__iexact": number.strip()}
    horns, former = Horn.objects.filter(**same), FormerNumber.objects.filter(**same)
    if besides is not None and besides.pk:
        horns, former = horns.exclude(pk=besides.pk), former.exclude(horn_id=besides.pk)
    return horns.exists() or former.exists()
