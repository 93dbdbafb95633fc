"""Register numbers: how they are sorted, and which one is free next."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fleet.people.models import School

TAKEN = "This register number is taken. A number stays with its horn for ever."
FORM = r"^[A-Za-z0-9][A-Za-z0-9 /.-]*$"
FORM_SENTENCE = "A register number is made of letters, digits, spaces, dash, dot or slash."
# Fifteen digits fit a 64-bit column and no school has more horns than that.
_PARTS = re.compile(r"^(.*?)([0-9]{0,15})$", re.DOTALL)


def parts_of(number: str) -> tuple[str, int]:
    """`HN-0042` as (`HN-`, 42): sorted by these, HN-9 comes before HN-10. Without digits at the end, 0."""
    match = _PARTS.match(number.strip().upper())
    if match is None:  # The expression matches every text.
        return number, 0
    return match[1], int(match[2] or 0)


def next_free(school: School) -> str:
    """The number after the highest that begins with the school's prefix, four digits wide or as wide as that one.

    Only a suggestion: `actions.register_horn` looks again with the school's numbers locked.
    """
    from fleet.register.models import FormerNumber, Horn

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
