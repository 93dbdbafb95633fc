"""Register numbers: what one looks like, and what it is sorted by."""

from __future__ import annotations

import re

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
