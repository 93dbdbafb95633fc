"""Letters on paper for guardians whom no e-mail reaches: the same words as the letters that go by mail."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from io import BytesIO

from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.models import School
from fleet.reports.sheet.page import BODY_END, BODY_TOP, WIDTH, Sheet


def overdue_letters_drawn(
    written: Iterable[tuple[Loan, str, str]], *, school: School, today: date, paper: str
) -> bytes:
    """The PDF for (loan, subject, words) of each letter."""
    out = BytesIO()
    title = f"Overdue letters, {day(today)}"
    page = Sheet(out, school=school.name, title=title, head=day(today), paper=paper, foot=school.contact)
    empty = True
    for loan, subject, words in written:
        if not empty:
            page.turn(own=True)
        empty = False
        page.entry(f"{loan.guardian.name}, {loan.horn.number}")
        page.folds()
        page.words(0, BODY_TOP + 14, loan.guardian.name, size=11, width=WIDTH)
        page.words(0, BODY_TOP + 20, f"given to {loan.pupil.described}", size=9, grey=True, width=WIDTH)
        y = page.paragraph(0, BODY_TOP + 39, subject, WIDTH, size=12.5, bold=True, lines=3)
        y = page.block(0, y + 3, words, 150, BODY_END - y - 28, size=11)
        page.rule(0, y + 18, 80)
        page.words(0, y + 22, "For the school: signature, name", size=8, grey=True)
    if empty:
        page.paragraph(
            0, BODY_TOP, "No letter on paper is needed: nothing is overdue that e-mail does not reach.", WIDTH
        )
    page.close()
    return out.getvalue()
