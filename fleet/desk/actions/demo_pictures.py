"""The demo school's photographs, drawn here: horns of brass on a table, a signed sheet on a desk."""

from __future__ import annotations

import io
import secrets
from collections.abc import Iterator
from math import cos, sin
from typing import TYPE_CHECKING, Any

from django.core.files.base import ContentFile

from fleet.desk.actions.demo_school import DemoSchool
from fleet.register.actions.photographs import add_photograph
from fleet.signing.actions.signed_sheets import keep_signed
from identify.core.drawing.picture import Shape, segments
from identify.core.drawing.whole import whole
from identify.core.horns.catalogue import catalogue

if TYPE_CHECKING:
    from PIL import Image

Point = tuple[float, float]
TABLE, BRASS, SHINE, PAPER, INK = (96, 74, 58), (176, 134, 52), (240, 214, 138), (250, 247, 240), (60, 58, 66)
WIDE, HIGH = 480, 360
# From one bend of a curve to the next.
STEPS = 10


def photograph(demo: DemoSchool, plan: dict[str, Any]) -> None:
    horn = demo.horns[plan["horn"]]
    horn.refresh_from_db()
    image = drawn_horn(horn.build)
    at, caption = demo.day(plan["days"]), plan["caption"]
    add_photograph(horn=horn, image=image, width=WIDE, height=HIGH, caption=caption, by=demo.head, at=at)


def keep_sheet(demo: DemoSchool, plan: dict[str, Any]) -> None:
    loan = demo.loan(plan["horn"])
    words = ("Loan sheet", f"{loan.horn} to {loan.pupil}", f"Signed: {loan.guardian}")
    keep_signed(loan=loan, file=drawn_sheet(words), by=demo.head, at=demo.day(plan["days"]))


def _jpeg(picture: Image.Image) -> ContentFile[bytes]:
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=70)
    return ContentFile(file.getvalue(), name=f"{secrets.token_hex(12)}.jpg")


def drawn_horn(build: str) -> ContentFile[bytes]:
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (WIDE, HIGH), TABLE)
    pen = ImageDraw.Draw(picture)
    drawn = whole(catalogue()[build], numbered=False)
    scale = min(WIDE / drawn.width, HIGH / drawn.height) * 0.9
    left, top = (WIDE - drawn.width * scale) / 2, (HIGH - drawn.height * scale) / 2
    for metal, wider in ((BRASS, 4.2), (SHINE, 1.2)):
        for mark in drawn.marks:
            if isinstance(mark, Shape):
                for line in _lines(mark.path):
                    points = [(left + x * scale, top + y * scale) for x, y in line]
                    pen.line(points, metal, width=max(1, round(wider * scale)), joint="curve")
    return _jpeg(picture)


def drawn_sheet(words: tuple[str, ...]) -> ContentFile[bytes]:
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.new("RGB", (HIGH, WIDE), TABLE)
    pen = ImageDraw.Draw(picture)
    pen.rectangle((18, 14, HIGH - 18, WIDE - 14), PAPER)
    for at, said in enumerate(words):
        pen.text((44, 40 + at * 24 if at < 2 else 372), said, INK, font=ImageFont.load_default(20 if at == 0 else 15))
    for row in range(13):
        pen.line((44, 110 + row * 18, (300, 312, 270)[row % 3], 110 + row * 18), (190, 186, 180), width=3)
    loops = [(56 + x + 9 * cos(x / 4), 424 + 14 * sin(x / 4) - x / 12) for x in range(150)]
    pen.line(loops, (40, 60, 140), width=2, joint="curve")
    return _jpeg(picture)


def _lines(path: str) -> Iterator[list[Point]]:
    """SVG path data as lines of points."""
    line: list[Point] = []
    for letter, *numbers in segments(path):
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        if letter == "M":
            if len(line) > 1:
                yield line
            line = points
        elif letter == "C":
            line += [_on_curve(line[-1], points, step / STEPS) for step in range(1, STEPS + 1)]
        else:
            line += points or line[:1]
    if len(line) > 1:
        yield line


def _on_curve(begins: Point, handles: list[Point], t: float) -> Point:
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    x, y = (sum(w * p[axis] for w, p in zip(weights, (begins, *handles), strict=True)) for axis in (0, 1))
    return x, y
