"""Letters on paper for guardians whom no e-mail reaches: the same words as the letters that go by mail."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from io import BytesIO

from django.db.models import Exists, OuterRef, Q
from django.http import HttpResponse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans.lending import day
from fleet.loans.models import Letter, Loan
from fleet.loans.post import rules_of
from fleet.loans.reminding import composed
from fleet.origin import origin_of
from fleet.people.models import School
from fleet.people.openings import note
from fleet.reports.page import BODY_END, BODY_TOP, WIDTH, Page, as_pdf, paper_asked


def overdue_letters(request: SeatedRequest) -> HttpResponse:
    """A page a letter, for overdue loans without an address or whose letter the mail server refused."""
    school, today = request.seat.school, timezone.localdate(request.now)
    bounced = Letter.objects.undelivered().filter(loan=OuterRef("pk"))
    unreached = Q(guardian__email="") | Exists(bounced)
    loans = Loan.objects.at(school).overdue(today).filter(unreached)
    if request.GET.get("all"):
        loans = Loan.objects.at(school).overdue(today)
    loans = loans.select_related("horn__school", "pupil", "guardian").order_by("pupil__group", "pupil__name", "pk")
    paper = paper_asked(request.GET.get("paper"), school)
    rules, origin = rules_of(school), origin_of(request)

    note(request)
    written = ((loan, *composed(loan, "after", today, rules=rules, origin=origin)) for loan in loans)
    return as_pdf(drawn(written, school=school, today=today, paper=paper), f"letters-{today:%Y-%m-%d}")


def drawn(written: Iterable[tuple[Loan, str, str]], *, school: School, today: date, paper: str) -> bytes:
    """The PDF for (loan, subject, words) of each letter."""
    out = BytesIO()
    title = f"Overdue letters, {day(today)}"
    page = Page(out, school=school.name, title=title, head=day(today), paper=paper, foot=school.contact)
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
