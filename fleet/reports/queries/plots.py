"""Bars and stacked bars as pictures: the same shapes on a page and on paper, told apart by their pattern of ink."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from textwrap import wrap

from django.utils.translation import gettext as _s

from identify.core.drawing.picture import Mark, Picture, Shape, Words

# A phone's width of room, so that the words stay readable there.
WIDTH = 340.0
LABEL, BAR_LEFT, FIGURE = 12.5, 142.0, 40.0
ROW, BAR, LINE = 24.0, 15.0, 15.0
FOLDED = 3  # equal bars from which on they are one
LETTER = 7.0  # about what a letter of 12.5 units is wide, in a wide face
DIGIT = 8.0  # and a figure, which no face makes narrower than its neighbour


def bars(title: str, rows: Sequence[tuple[str, float, str]]) -> Picture:
    """Bars lying side by side: (label, value, the value in words) each, none of them negative."""
    longest = max((value for _, value, _ in rows), default=0.0) or 1.0
    told = "; ".join(f"{label}: {words}" for label, _, words in rows)
    rows = folded(rows)
    # Labels too long to stand before their bars stand above them, all or none.
    above = any(len(label) * LETTER > BAR_LEFT - 6 for label, _, _ in rows)
    labels = [wrap(label, int(WIDTH / LETTER)) if above else [label] for label, _, _ in rows]
    over = LINE * max(map(len, labels), default=0) if above else 0.0
    left, row = (0.0, ROW + over) if above else (BAR_LEFT, ROW)
    figure = max(FIGURE, max((len(words) for _, _, words in rows), default=0) * DIGIT + 6)
    room = WIDTH - left - figure
    marks: list[Mark] = []
    for number, (_, value, words) in enumerate(rows):
        top = number * row + over + 4.0
        wide = room * value / longest
        foot = top - 5.0 if above else top + BAR - 3
        # The upper line first, as it is read aloud.
        for further, said in zip(range(len(labels[number]) - 1, -1, -1), labels[number], strict=True):
            marks.append(Words(0, foot - further * LINE, said, LABEL))
        if value:
            marks.append(Shape(_box(left, top, max(wide, 1.0), BAR), fill=0.75))
        marks.append(Words(left + wide + 5, top + BAR - 3, words, LABEL))
    return _picture(title, told, len(rows) * row + 6.0, marks)


def folded(rows: Sequence[tuple[str, float, str]]) -> list[tuple[str, float, str]]:
    """Rows in which bars of one length that follow one another are one bar: the first by name, the others counted."""
    told = []
    for (value, words), alike in groupby(rows, key=lambda one: one[1:]):
        labels = [label for label, _, _ in alike]
        if len(labels) < FOLDED:
            told += [(label, value, words) for label in labels]
        else:
            first = _s("%(first)s and %(count)d more") % {"first": labels[0], "count": len(labels) - 1}
            told.append((first, value, _s("%(figure)s each") % {"figure": words}))
    return told


def stacks(title: str, parts: Sequence[str], rows: Sequence[tuple[str, Sequence[int]]]) -> Picture:
    """A bar a row, as long as its sum, cut into the same parts in the same order, with a key beneath."""
    longest = max((sum(values) for _, values in rows), default=0) or 1
    room = WIDTH - BAR_LEFT - max(FIGURE, len(str(longest)) * DIGIT + 6)
    inks = [_ink(number, len(parts)) for number in range(len(parts))]
    marks: list[Mark] = []
    for number, (label, values) in enumerate(rows):
        top = number * ROW + 4.0
        marks.append(Words(0, top + BAR - 3, _cut(label, BAR_LEFT), LABEL))
        left = BAR_LEFT
        for value, ink in zip(values, inks, strict=True):
            if value:
                wide = room * value / longest
                marks.append(Shape(_box(left, top, wide, BAR), fill=ink, line=1.0, weight=0.8))
                left += wide
        marks.append(Words(left + 5, top + BAR - 3, str(sum(values)), LABEL))
    top = len(rows) * ROW + 12.0
    for part, ink in zip(parts, inks, strict=True):
        marks.append(Shape(_box(BAR_LEFT, top, 14, 11), fill=ink, line=1.0, weight=0.8))
        marks.append(Words(BAR_LEFT + 20, top + 10, part, LABEL))
        top += 18.0
    told = "; ".join(
        f"{label}: " + ", ".join(f"{value} {part}" for part, value in zip(parts, values, strict=True))
        for label, values in rows
    )
    return _picture(title, told, top + 2.0, marks)


def _picture(title: str, told: str, height: float, marks: Sequence[Mark]) -> Picture:
    return Picture(WIDTH, height, title, told or _s("Nothing to show yet."), tuple(marks), scale=1.5)


def _ink(number: int, of: int) -> float:
    """From empty to full, so that the worst is the darkest."""
    return number / max(1, of - 1)


def _box(left: float, top: float, width: float, height: float) -> str:
    right, foot = left + width, top + height
    return f"M{left:.2f} {top:.2f}L{right:.2f} {top:.2f}L{right:.2f} {foot:.2f}L{left:.2f} {foot:.2f}Z"


def _cut(label: str, room: float) -> str:
    most = int((room - 6) / LETTER)
    return label if len(label) <= most else label[: most - 1].rstrip() + "…"
