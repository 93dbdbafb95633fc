"""The care card: what keeps a horn playing, on one page for the case. The horn's own kind decides the oil."""

from __future__ import annotations

from io import BytesIO
from itertools import chain

from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.reports.sheet.lines import block_height
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet
from fleet.workshop.queries.looking_after import care_of

SIDE = 34.0


def care_card_drawn(horn: Horn, *, paper: str, address: str) -> bytes:
    out = BytesIO()
    care = care_of(build_of(horn.build))
    page = Sheet(out, school=horn.school.name, title=f"Care card, {horn.number}", paper=paper)
    page.words(0, BODY_TOP + 9, horn.number, size=24, bold=True, width=WIDTH - SIDE - 5)
    page.words(0, BODY_TOP + 16, horn.kind or "a horn", size=13, width=WIDTH - SIDE - 5)
    page.code(WIDTH - SIDE, BODY_TOP, SIDE, address)
    page.words_right(WIDTH - 4, BODY_TOP + SIDE + 1, "this horn’s page, after signing in", size=7.5, grey=True)
    y = BODY_TOP + SIDE + 4
    page.words(0, y, "Looking after it", size=14, bold=True)
    for line in care.lines:
        page.tick_box(0, y + 7.2)
        y = page.paragraph(7, y + 3, line, WIDTH - 7, size=12)
    y += 8
    page.words(0, y, "Mind", size=14, bold=True)
    for caution in chain.from_iterable(care.cautions):
        y = page.paragraph(7, y + 2, caution, WIDTH - 7, size=12)
    y += 8
    rules = horn.school.local_rules
    if rules and block_height(rules, WIDTH, 8) < BODY_END - y - 30:
        page.words(0, y, "The school’s own rules", size=14, bold=True)
        y = page.block(0, y + 2, rules, WIDTH, BODY_END - y - 30, size=11) + 8
    page.words(0, y, "When something is wrong", size=14, bold=True)
    page.paragraph(
        0, y + 2, f"Mend nothing yourself. Tell {horn.school.contact or horn.school.name} the same day.", WIDTH, size=12
    )
    page.close()
    return out.getvalue()
