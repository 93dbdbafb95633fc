"""Register numbers: what one looks like, and what it is sorted by."""

from __future__ import annotations

from string import digits

TAKEN = "This register number is taken. A number stays with its horn for ever."
FORM = r"^[A-Za-z0-9][A-Za-z0-9 /.-]*$"
FORM_SENTENCE = "A register number is made of letters, digits, spaces, dash, dot or slash."
# So many digits fit a 64-bit column, and no school has more horns than that.
_MOST_DIGITS = 15


def parts_of(number: str) -> tuple[str, int]:
    """`HN-0042` as (`HN-`, 42): sorted by these, HN-9 comes before HN-10. Without digits at the end, 0."""
    number = number.strip().upper()
    tail = number[len(number.rstrip(digits)) :][-_MOST_DIGITS:]
    return number.removesuffix(tail), int(tail or 0)
