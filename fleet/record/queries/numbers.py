"""Numbers of acts as they are told: `1-3, 7`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator


def in_ranges(numbers: Iterable[int]) -> str:
    """Whole numbers, each once, in words: `1-3, 7` of 7, 1, 2 and 3."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{first}-{last}" if last > first else str(first) for first, last in runs)


def of_ranges(words: str) -> Iterator[range]:
    """What `in_ranges` wrote. What cannot be read is left out."""
    for part in words.split(", "):
        first, _, last = part.partition("-")
        if first.isdecimal() and (last or first).isdecimal():
            yield range(int(first), int(last or first) + 1)
