"""The heads over the columns of a table: what is too long for its column goes on below, so that no language is cut."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import Sheet

SIZE = 8.0


class Head(NamedTuple):
    """The words, which may be said when they are drawn, and from where to where they stand, in mm; `right` for what
    stands at the right end."""

    words: str
    left: float
    end: float
    right: bool = False


def heads(page: Sheet, y: float, told: Sequence[Head], *, bold: bool = False) -> float:
    """Draws them from y down, the last lines side by side; gives the foot of these."""
    lines = [broken(str(head.words), head.end - head.left, SIZE, bold) for head in told]
    foot = y + 4.0 + (max(map(len, lines)) - 1) * leading(SIZE)
    for head, said in zip(told, lines, strict=True):
        for above, line in enumerate(reversed(said)):
            at = foot - above * leading(SIZE)
            if head.right:
                page.words_right(head.end, at, line, size=SIZE, bold=bold)
            else:
                page.words(head.left, at, line, size=SIZE, bold=bold, grey=not bold)
    return foot
