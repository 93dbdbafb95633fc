"""Draws an `identify.core.drawing.picture.Picture` on a page: the same shapes that stand on the site, as vectors."""

from __future__ import annotations

from typing import Any

from fleet.reports.sheet import faces
from fleet.reports.sheet.lines import MM
from fleet.reports.sheet.page import Sheet
from identify.core.drawing.picture import Glyph, Picture, Shape, Words, segments


def draw(page: Sheet, picture: Picture, x: float, y: float, scale: float) -> float:
    """The picture with its top left corner at x, y, a unit of it being `scale` mm; gives the y below it."""
    canvas = page.canvas
    left, top = (page.left + page.from_left(x, picture.width * scale)) * MM, (page.paper[1] - page.top - y) * MM
    size = scale * MM
    canvas.saveState()
    for mark in picture.marks:
        if isinstance(mark, Shape):
            _shape(canvas, mark, left, top, size)
        elif isinstance(mark, Glyph):
            path = _path(
                canvas, picture.glyphs[mark.name], left + mark.x * size, top - mark.y * size, size * mark.scale, up=True
            )
            canvas.setFillGray(0)
            canvas.drawPath(path, stroke=0, fill=1)
        else:
            _words(canvas, mark, left, top, size)
    canvas.restoreState()
    return y + picture.height * scale


def _path(canvas: Any, data: str, left: float, top: float, size: float, *, up: bool = False) -> Any:
    path = canvas.beginPath()
    down = 1.0 if up else -1.0
    for letter, *numbers in segments(data):
        points = [
            coordinate
            for x, y in zip(numbers[::2], numbers[1::2], strict=True)
            for coordinate in (left + x * size, top + down * y * size)
        ]
        if letter == "M":
            path.moveTo(*points)
        elif letter == "L":
            path.lineTo(*points)
        elif letter == "C":
            path.curveTo(*points)
        else:
            path.close()
    return path


def _shape(canvas: Any, shape: Shape, left: float, top: float, size: float) -> None:
    canvas.setFillGray(1 - shape.fill)
    canvas.setStrokeGray(1 - shape.line)
    canvas.setLineWidth(shape.weight * size)
    canvas.setDash([3 * shape.weight * size, 2 * shape.weight * size] if shape.dashed else [])
    path = _path(canvas, shape.path, left, top, size)
    canvas.drawPath(path, stroke=int(shape.line > 0), fill=int(shape.fill > 0))


def _words(canvas: Any, words: Words, left: float, top: float, size: float) -> None:
    points = words.size * size
    wide = faces.width(words.said, points, words.bold)
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[words.anchor]
    canvas.setFillGray(0)
    faces.draw(canvas, left + words.x * size - back, top - words.y * size, words.said, points, words.bold)
