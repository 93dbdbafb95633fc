"""Labels for horns: a square code that opens the horn's page for those who may see it, the number, the school.

A high label shows the kind of horn too, and on request whom to tell when it is found. It says nothing else: a found
horn should find its way back, and tell a stranger nothing about a child.
"""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO

from django.urls import reverse
from django.utils.formats import number_format
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.wording import with_commas
from fleet.people.models import School
from fleet.people.queries.own_words import speaking
from fleet.register.models import LabelSheet
from fleet.register.models.kinds import build_of
from fleet.reports.sheet.lines import leading
from fleet.reports.sheet.page import SMALLEST, Sheet
from fleet.reports.sheet.pictured import draw
from identify.core.drawing.whole import whole
from identify.core.horns.builds import Build

MARGIN = 2.0
EDGE = 1.0  # mm that stay free below the small words
LEAST_PICTURE = 8.0  # mm high; smaller, nothing is to be seen


def labels_drawn(
    rows: Iterable[tuple[str, str, str]],
    *,
    sheet: LabelSheet,
    school: School,
    origin: str,
    skip: int,
    cut: bool,
    found: bool = False,
) -> bytes:
    """The PDF for rows of number, label code and code of the build.

    `skip` labels of the first sheet stay free; `cut` frames each; with `found` each asks to be brought back.
    """
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Labels"), paper=sheet.paper, bare=True)
    place = skip % sheet.count
    for number, code, kind in rows:
        if place == sheet.count:
            page.turn()
            place = 0
        x, y = sheet.corner(place)
        if cut:
            page.frame(x, y, sheet.width, sheet.height, weight=0.2)
        one_label(
            page,
            sheet,
            x,
            y,
            number=number,
            school=school,
            found=found,
            address=origin + reverse("desk:label", args=[code]),
        )
        if not found and (build := build_of(kind)):
            _pictured(page, sheet, x, y, build)
        place += 1
    page.close()
    return out.getvalue()


def found_words(school: School) -> str:
    """What a stranger who finds the horn reads."""
    return gettext("If found: %(school)s") % {"school": with_commas((school.name, school.contact))}


def one_label(
    page: Sheet, sheet: LabelSheet, x: float, y: float, *, number: str, school: School, found: bool, address: str
) -> None:
    """The code at the left, the number beside it, the school below, inside a margin that forgives a crooked feed."""
    side = min(sheet.height - 2 * MARGIN, sheet.width * 0.5)
    page.code(x + MARGIN, y + (sheet.height - side) / 2, side, address)
    left = x + MARGIN + side + 1.0
    room = sheet.width - (left - x) - MARGIN
    middle = y + sheet.height / 2
    page.words(left, middle + 1.0, number, size=min(20.0, sheet.height * 0.55), bold=True, width=room)
    if not found:
        page.words(left, middle + 6.0, school.name, size=8, width=room)
        return
    lines = max(1, int((sheet.height / 2 - 2.6 - EDGE) / leading(SMALLEST)))
    # In the language of the school, whoever prints it.
    with speaking(school, school.language):
        page.paragraph(left, middle + 2.6, found_words(school), room, size=SMALLEST, lines=lines)


def _pictured(page: Sheet, sheet: LabelSheet, x: float, y: float, build: Build) -> None:
    """What the horn looks like, below the school, where a label is high enough: the right horn into the right case."""
    high = sheet.height / 2 - 7.5 - MARGIN
    if high < LEAST_PICTURE:
        return

    def drawing() -> None:
        horn = whole(build, numbered=False)
        side = min(sheet.height - 2 * MARGIN, sheet.width * 0.5)
        draw(page, horn, MARGIN + side + 1.0, sheet.height / 2 + 7.5, high / horn.height)

    page.once(build.code, drawing, x, y)


def alignment(sheet: LabelSheet, *, school: School) -> bytes:
    """Frames where the labels should lie, with their numbers: print it on plain paper, hold it against a sheet."""
    out = BytesIO()
    page = Sheet(out, school=school.name, title=_s("Labels, alignment"), paper=sheet.paper, bare=True)
    size = " × ".join(number_format(f"{side:g}") for side in (sheet.width, sheet.height)) + " mm"
    for place in range(sheet.count):
        x, y = sheet.corner(place)
        page.frame(x, y, sheet.width, sheet.height, weight=0.3)
        page.words(x + 3, y + 7, str(place + 1), size=11)
        page.words(x + 3, y + 12, size, size=8, width=sheet.width - 6)
    x, y = sheet.corner(0)
    page.words(x + 3, y + 15.4, _s("Print at 100 %, not fitted to the page."), size=7, width=sheet.width - 6)
    page.close()
    return out.getvalue()
