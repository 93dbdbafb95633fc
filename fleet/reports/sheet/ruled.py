"""Rows on paper: a table that goes on over the page with its heading again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from fleet.reports.sheet.heads import Head, heads
from fleet.reports.sheet.lines import broken, fitted, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet

SIZE = 9.0
TO_WRITE = 7.2  # mm, so that a pencil has room


class RuledColumn(NamedTuple):
    """A heading, the width in mm, and whether it holds figures, which stand at its right end. The heading may be said
    when it is drawn."""

    heading: str
    width: float
    figures: bool = False


def heading(page: Sheet, y: float, said: str, *, keep: float = 20.0) -> float:
    """A heading with room for `keep` mm below it on the same page; gives the y below."""
    if y + 9 + keep > BODY_END:
        page.turn()
        y = BODY_TOP
    page.words(0, y + 6.0, said, size=12, bold=True, width=WIDTH)
    return y + 8.5


def rows(
    page: Sheet,
    y: float,
    columns: Sequence[RuledColumn],
    lines: Sequence[Sequence[str]],
    *,
    tick: bool = False,
    summed: bool = False,
) -> float:
    """A table from y down, over as many pages as it takes; words that do not fit are broken, never lost.

    With `tick` each row begins with a box to tick. `summed` says that the last is the sum of those above it: it never
    stands alone on the next page. Gives the y below.
    """
    left = 7.0 if tick else 0.0
    told = [
        [broken(str(said), column.width - 2.0, SIZE) or [""] for said, column in zip(line, columns, strict=True)]
        for line in lines
    ]
    heights = [max(TO_WRITE if tick else 5.0, max(len(cell) for cell in cells) * leading(SIZE) + 1.4) for cells in told]
    first = sum(heights[:2] if summed and len(heights) == 2 else heights[:1])
    y = _headings(page, y, columns, left, first)
    for at, (cells, height) in enumerate(zip(told, heights, strict=True)):
        below = heights[-1] if summed and at == len(told) - 2 else 0.0
        if y + height + below > BODY_END:
            page.turn()
            y = _headings(page, BODY_TOP, columns, left, 0.0)
        if tick:
            page.tick_box(0, y + 4.8)
        x = left
        for cell, column in zip(cells, columns, strict=True):
            for number, words in enumerate(cell):
                foot = y + 4.0 + number * leading(SIZE)
                if column.figures:
                    page.words_right(x + column.width - 2.0, foot, words, size=SIZE)
                else:
                    page.words(x, foot, words, size=SIZE)
            x += column.width
        y += height
        page.rule(0, y, x, weight=0.2)
    return y + 2.0


def _headings(page: Sheet, y: float, columns: Sequence[RuledColumn], left: float, keep: float) -> float:
    told, x = [], left
    for column in columns:
        told.append(Head(column.heading, x, x + column.width - 2.0, column.figures))
        x += column.width
    foot = heads(page, y, told, keep=1.6 + keep)
    page.rule(0, foot + 1.4, x, weight=0.5)
    return foot + 1.6


def said(page: Sheet, y: float, words: str, *, size: float = 9.0, grey: bool = False) -> float:
    """A paragraph over the full width, on the next page where it does not fit; gives the y below."""
    height = len(broken(words, WIDTH, size)) * leading(size)
    if y + height > BODY_END:
        page.turn()
        y = BODY_TOP
    return page.paragraph(0, y, words, WIDTH, size=size, grey=grey) + 1.5


def to_sign(page: Sheet, y: float, who: Sequence[str], *, what: str) -> float:
    """A line to sign on for each, with its words beneath; two to a row. `what` is signed is said again where the lines
    come on a page of their own."""
    for number, words in enumerate(who):
        if number % 2 == 0:
            y += 18.0
            if y > BODY_END - 5:
                page.turn()
                y = said(page, BODY_TOP, what) + 18.0
        x = 0.0 if number % 2 == 0 else 100.0
        page.rule(x, y, 85)
        page.words(x, y + 4.0, words, size=8, grey=True, width=85)
    return y + 6.0


def to_write_on(page: Sheet, x: float, y: float, width: float, labels: Sequence[str]) -> None:
    """Lines to write on by hand, the first the tallest, what belongs there below each."""
    line = y + 5.8
    for label in labels:
        line += 8.4
        page.rule(x, line, width, weight=0.4)
        page.words(x, line + 3, label, size=7.5, grey=True, width=width)


def labelled(page: Sheet, x: float, y: float, width: float, rows: Sequence[tuple[str, str]]) -> None:
    """Rows of a label and what it says, below one another; what does not go into a line takes two."""
    line = y + 1.5
    for label, words in rows:
        line += 5.4
        page.words(x, line, label, size=8, grey=True, width=17)
        said, size = fitted(words, width - 18, 9.5)
        if size >= 8:
            page.words(x + 18, line, said, size=size)
        else:
            top = line - leading(8) * 0.75
            line = page.paragraph(x + 18, top, words, width - 18, size=8, lines=2) - 0.9
