"""Rows of engraved notes, spread so that all staves of a chart are equally long."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import chain

from identify.core.drawing.picture import Glyph, Mark, Shape, Words, extent, segments

# A row is spread by so much at most; of a shorter one only the staff goes on, with what ends it.
_SPREAD = 1.25
# More room before a clef that ends a row than the engraver leaves, in its units: two thirds of a staff space.
_BEFORE_CLEF = 120.0


def evened(marks: list[Mark], rows: Iterable[range]) -> list[Mark]:
    """The marks, those of each of the `rows` spread to the end of the longest one."""
    found, spans = list(marks), []
    for row in rows:
        here = marks[row.start : row.stop]
        begin, end = _span(here)
        if any(isinstance(mark, Glyph) and mark.x > _last(here) for mark in here):
            here = _lengthened(here, begin, end, end + _BEFORE_CLEF)
            end += _BEFORE_CLEF
        spans.append((row, here, begin, end))
    longest = max((end for *_, end in spans), default=0.0)
    for row, here, begin, end in spans:
        move = _spread if (longest - begin) / (end - begin) <= _SPREAD else _lengthened
        found[row.start : row.stop] = move(here, begin, end, longest)
    return found


def _last(row: list[Mark]) -> float:
    """The middle of the last note, which has words below it."""
    return max(mark.x for mark in row if isinstance(mark, Words))


def _span(row: list[Mark]) -> tuple[float, float]:
    ends = list(chain.from_iterable(extent(mark.path) for mark in row if isinstance(mark, Shape)))
    return min(ends), max(ends)


def _spread(row: list[Mark], begin: float, end: float, longest: float) -> list[Mark]:
    wide = (longest - begin) / (end - begin)
    return [_moved(mark, lambda x: begin + (x - begin) * wide) for mark in row]


def _lengthened(row: list[Mark], begin: float, end: float, longest: float) -> list[Mark]:
    last, found = _last(row), []
    for mark in row:
        left, right = extent(mark.path) if isinstance(mark, Shape) else (mark.x, mark.x)
        if left == begin and right > last:  # a line of the staff
            found.append(_moved(mark, lambda x: x if x == begin else longest))
        elif left > last and not isinstance(mark, Words):  # a clef to come, a bar line
            found.append(_moved(mark, lambda x: x + longest - end))
        else:
            found.append(mark)
    return found


def _moved(mark: Mark, to: Callable[[float], float]) -> Mark:
    if not isinstance(mark, Shape):
        return replace(mark, x=to(mark.x))
    said = ""
    for letter, *numbers in segments(mark.path):
        points = zip(numbers[::2], numbers[1::2], strict=True)
        said += letter + " ".join(f"{to(x):g} {y:g}" for x, y in points)
    return replace(mark, path=said)
