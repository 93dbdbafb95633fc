"""The heads over the columns of a table: what is too long for its column goes on below, so that no language is cut."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from fleet.reports.sheet import faces
from fleet.reports.sheet.lines import MM, broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, SMALLEST, Sheet

SIZE = 8.0


class Head(NamedTuple):
    """The words, which may be said when they are drawn, and from where to where they stand, in mm; `right` for what
    stands at the right end."""

    words: str
    left: float
    end: float
    right: bool = False


def heads(page: Sheet, y: float, told: Sequence[Head], *, keep: float, bold: bool = False) -> float:
    """Draws them from y down, the last lines side by side, with `keep` mm below on the same page; gives the foot of
    these."""
    said = [_set(str(head.words), head.end - head.left, bold) for head in told]
    high = 4.0 + max(len(lines) - 1 for lines, _ in said) * leading(SIZE)
    if y + high + keep > BODY_END:
        page.turn()
        y = BODY_TOP
    foot = y + high
    for head, (lines, size) in zip(told, said, strict=True):
        # From the first to the last, so that a reader is told them in this order.
        for at, line in enumerate(lines, 1 - len(lines)):
            y = foot + at * leading(SIZE)
            if head.right:
                page.words_right(head.end, y, line, size=size, bold=bold)
            else:
                page.words(head.left, y, line, size=size, bold=bold, grey=not bold)
    return foot


def _set(words: str, room: float, bold: bool) -> tuple[list[str], float]:
    """The lines and their size: smaller rather than cut within a word."""
    widest = max((faces.width(word, SIZE, bold) for word in words.split()), default=0.0) / MM
    size = SIZE if widest <= room else max(SMALLEST, SIZE * room / widest * 0.999)
    return broken(words, room, size, bold) or [""], size
