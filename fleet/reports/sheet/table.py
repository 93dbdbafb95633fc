"""A table over as many pages as it takes, its head on each of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fleet.reports.sheet.heads import Head, heads
from fleet.reports.sheet.lines import broken, fitted, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet

ROW = 6.2
SIZE = 9.0
TICK = "☐"
# A cell that is a little too long is made that much smaller; a longer one is broken, over so many lines at most.
SMALLER = 8.0
LINES = 8


@dataclass(frozen=True, slots=True)
class TableColumn:
    """`share` of the width of the page; `right` for figures. The head may be said when it is drawn."""

    head: str
    share: float
    right: bool = False


def table(
    page: Sheet, y: float, columns: Sequence[TableColumn], rows: Iterable[Sequence[str]], *, keep: float = 0.0
) -> float:
    """Draws the rows from y (mm) downwards, turning the page where it must; gives the y below the last.

    The last row is on a page with `keep` mm free below it, so that signatures do not stand alone.

    A cell too long for its column is made a little smaller, then broken. A cell that is
    `TICK` is a box to tick by hand.
    """
    whole = sum(column.share for column in columns)
    edges = [0.0]
    for column in columns:
        edges.append(edges[-1] + WIDTH * column.share / whole)
    y = _head(page, y, columns, edges)
    last = 0
    if keep:
        rows = list(rows)
        last = len(rows)
    for at, cells in enumerate(rows, start=1):
        told = [_told(said, right - left - 2) for left, right, said in zip(edges, edges[1:], cells, strict=False)]
        height = ROW + (max(len(lines) for lines, _ in told) - 1) * leading(SIZE)
        if y + height + (keep if at == last else 0.0) > BODY_END:
            page.turn()
            y = _head(page, BODY_TOP, columns, edges)
        for column, left, right, said, (lines, size) in zip(columns, edges, edges[1:], cells, told, strict=False):
            if said == TICK:
                page.tick_box(left, y + ROW - 1.4, side=3.2)
                continue
            for number, line in enumerate(lines):
                foot = y + ROW - 1.8 + number * leading(SIZE)
                if column.right:
                    page.words_right(right - 2, foot, line, size=size)
                else:
                    page.words(left, foot, line, size=size)
        y += height
        page.rule(0, y, WIDTH, weight=0.2)
    return y


def _told(said: str, width: float) -> tuple[list[str], float]:
    """The lines of a cell and their size."""
    _, size = fitted(said, width, SIZE)
    if size >= SMALLER:
        return [said], size
    return broken(said, width, SIZE, lines=LINES), SIZE


def _head(page: Sheet, y: float, columns: Sequence[TableColumn], edges: Sequence[float]) -> float:
    told = [
        Head(one.head, left, right - 2, one.right) for one, left, right in zip(columns, edges, edges[1:], strict=False)
    ]
    foot = heads(page, y + 0.4, told, keep=1.6 + ROW, bold=True)
    page.rule(0, foot + 1.6, WIDTH, weight=0.6)
    return foot + 1.6
