"""The fingering chart on paper: one page for the music stand, of one horn as it stands. No names of pupils."""

from __future__ import annotations

from io import BytesIO

from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.reports.queries.family_chart import FamilyChart, hand_of
from fleet.reports.sheet.lines import broken, leading
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from identify.core.drawing.engraving import engraved
from identify.core.drawing.unrolled import about_sets, unrolled
from identify.core.fingering.charts import Chart
from identify.core.fingering.remarks import remarks
from identify.core.fingering.words import KINDS, legend, title
from identify.core.horns.speech import capital

LARGEST = 17.0 / 720  # mm a unit of the engraving: a staff no higher than 17 mm
HIGHEST = 150.0  # mm: the engraving, so that what stands below it has room
HAND = 0.16  # mm a unit of the drawn hand
DRAWING = 92.0  # mm: how wide the unrolled horn is


def family_chart_drawn(found: Chart, told: FamilyChart, *, number: str, school: str, paper: str) -> bytes:
    """The same for a family, in the language spoken now: the notes, the hand, and what the signs mean."""
    out = BytesIO()
    title = gettext("Fingering chart, %(number)s") % {"number": number}
    page = Sheet(out, school=school, title=title, paper=paper)
    page.words(0, BODY_TOP + 7, f"{number}: {told.horn}", size=17, bold=True, width=WIDTH)
    page.words(0, BODY_TOP + 13.5, told.words, size=12)
    notes = engraved(found.build, found.stand, told.kind, "paper", found.teaching)
    y = draw(page, notes, 0, BODY_TOP + 16, min(WIDTH / notes.width, HIGHEST / notes.height, LARGEST)) + 3
    for sign, words in told.signs:
        page.words(0, y + 4.5, sign, size=12, bold=True)
        y = page.paragraph(10, y, words, WIDTH - 10, size=11.5)
    if (shown := hand_of(found, told.kind)) is not None:
        page.words(0, y + 10, gettext("Which finger is which"), size=14, bold=True)
        below = draw(page, shown, 0, y + 13, HAND)
        page.paragraph(
            shown.width * HAND + 6, y + 16, "\n".join(told.fingers), WIDTH - shown.width * HAND - 6, size=11.5
        )
        y = below
    page.close()
    return out.getvalue()


def chart_drawn(found: Chart, kind: str, *, number: str, school: str, paper: str) -> bytes:
    """The document as PDF, one page."""
    out = BytesIO()
    page = Sheet(out, school=school, title=_s("Fingering chart, %(number)s") % {"number": number}, paper=paper)
    page.words(0, BODY_TOP + 7, title(found), size=17, bold=True, width=WIDTH)
    page.words(0, BODY_TOP + 13.5, capital(_s(KINDS[kind])), size=12)
    notes = engraved(found.build, found.stand, kind, "paper", found.teaching)
    y = draw(page, notes, 0, BODY_TOP + 16, min(WIDTH / notes.width, HIGHEST / notes.height, LARGEST)) + 3
    for sign, words in legend(found, kind):
        page.words(0, y + 4.5, sign, size=12, bold=True)
        y = page.paragraph(8, y, words, WIDTH - 8, size=11.5)
    _below(page, found, y + 4, kind)
    page.close()
    return out.getvalue()


def _below(page: Sheet, found: Chart, y: float, kind: str) -> None:
    """The unrolled horn at the left foot of the page, what to know beside it."""
    picture = unrolled(found.build, found.stand)
    scale = min(DRAWING / picture.width, (BODY_END - y) / picture.height)
    said = "\n".join((*remarks(found, kind), *about_sets(found.build)))
    beside = WIDTH - DRAWING - 6
    needed = max(picture.height * scale, len(broken(said, beside, 9.5)) * leading(9.5))
    top = max(y, BODY_END - needed)
    page.rule(0, top - 2, WIDTH, weight=0.3)
    draw(page, picture, 0, top, scale)
    page.block(DRAWING + 6, top, said, beside, BODY_END - top, size=9.5)
