"""The care card: what keeps a horn playing, on one page for the case, in the family's language, with the horn drawn.
Its own kind decides the oil."""

from __future__ import annotations

from io import BytesIO

from django.utils.translation import gettext

from fleet.register.models import Horn
from fleet.register.models.kinds import build_of, kind_in_words
from fleet.reports.sheet.lines import block_height
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.reports.sheet.pictured import draw
from fleet.workshop.queries.looking_after import care_of
from identify.core.drawing.whole import whole

# Millimetres: the square code, and beside it the horn as it looks from the front.
SIDE, PICTURED = 34.0, 55.0


def care_card_drawn(horn: Horn, *, paper: str, address: str) -> bytes:
    """In the language spoken now."""
    out = BytesIO()
    build = build_of(horn.build)
    care = care_of(build)
    title = gettext("Care card, %(number)s") % {"number": horn.number}
    page = Sheet(out, school=horn.school.name, title=title, paper=paper)
    wide = WIDTH - SIDE - PICTURED - 10
    page.words(0, BODY_TOP + 9, horn.number, size=24, bold=True, width=wide)
    page.paragraph(0, BODY_TOP + 11, kind_in_words(horn.build), wide, size=13, lines=3)
    if build is not None:
        picture = whole(build, numbered=False)
        scale = min(PICTURED / picture.width, (SIDE - 5) / picture.height)
        draw(page, picture, WIDTH - SIDE - 5 - picture.width * scale, BODY_TOP, scale)
    page.code(WIDTH - SIDE, BODY_TOP, SIDE, address)
    leads = gettext("this horn’s page, after signing in")
    page.words_right(WIDTH - 4, BODY_TOP + SIDE + 1, leads, size=7.5, grey=True, width=60)
    y = BODY_TOP + SIDE + 4
    page.words(0, y, gettext("Looking after it"), size=14, bold=True)
    for line in care.lines:
        page.tick_box(0, y + 7.2)
        y = page.paragraph(7, y + 3, line, WIDTH - 7, size=12)
    y = page.paragraph(7, y + 3, care.school, WIDTH - 7, size=12)
    y = page.paragraph(7, y + 3, care.first, WIDTH - 7, size=10, grey=True)
    y += 9
    rules = horn.school.rules
    if rules and block_height(rules, WIDTH, 8) < BODY_END - y - 30:
        page.words(0, y, gettext("The school’s own rules"), size=14, bold=True)
        y = page.block(0, y + 2, rules, WIDTH, BODY_END - y - 30, size=11) + 8
    page.words(0, y, gettext("Something is wrong"), size=14, bold=True)
    tell = gettext("Mend nothing yourself. Tell the school the same day: %(contact)s")
    page.paragraph(0, y + 2, tell % {"contact": horn.school.contact or horn.school.name}, WIDTH, size=12)
    page.close()
    return out.getvalue()
