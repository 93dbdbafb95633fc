"""The prints that staff ask for, each a PDF that opens in the browser. Printing writes nothing but
who looked, where people are named."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.asked import whole
from fleet.loans.batch import batch_from
from fleet.loans.drafts import draft_from
from fleet.loans.lending import why_not
from fleet.loans.models import Loan
from fleet.origin import origin_of
from fleet.people.openings import note
from fleet.reports import sheet_facts
from fleet.reports.loan_sheet import answer, drawn, response
from fleet.reports.page import as_pdf, paper_asked
from fleet.workshop.condition import open_findings, open_findings_of

MOST_SHEETS = 1000


def loan_sheet(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(Loan.objects.at(request.seat.school).select_related("pupil"), pk=pk)
    note(request, pupil=loan.pupil)
    return response(loan, request)


def sheet_to_sign(request: SeatedRequest) -> HttpResponse:
    """The sheet of a loan that the address describes. What cannot be lent goes back to the page that says why."""
    school = request.seat.school
    draft = draft_from(request.GET, school, timezone.localdate(request.now))
    if draft.horn is None or not draft.is_whole or why_not(draft.horn) is not None:
        return redirect(f"{reverse('loans:issue', args=[school.slug])}?{draft.query()}")
    draft.horn.school = school
    note(request, pupil=draft.pupil)
    facts = sheet_facts.of_draft(draft, open_findings(draft.horn))
    return answer(request, facts, f"to-sign-{draft.horn}")


def loan_sheets(request: SeatedRequest) -> HttpResponse:
    """The sheets of many open loans as one PDF: those named by `loan`, of a class (`group`), or issued `on` a day."""
    school = request.seat.school
    loans = Loan.objects.at(school).open()
    keys = [key for said in request.GET.getlist("loan") if (key := whole(said)) is not None]
    if keys:
        loans = loans.filter(pk__in=keys)
    if request.GET.get("group"):
        loans = loans.filter(pupil__group=request.GET["group"].replace("\0", ""))
    if issued := parse_date_or_none(request.GET.get("on", "")):
        loans = loans.filter(issued_on=issued)
    rows = loans.select_related(*sheet_facts.WITH).prefetch_related(*sheet_facts.ALSO)
    found = list(rows.order_by("pupil__group", "pupil__name", "pk")[: MOST_SHEETS + 1])
    if len(found) > MOST_SHEETS:
        messages.warning(request, f"More than {MOST_SHEETS} sheets are too many at once. Choose a class.")
        return redirect("desk:prints", school.slug)
    note(request)
    sheets = (sheet_facts.of_loan(loan) for loan in found)
    paper = paper_asked(request.GET.get("paper"), school)
    origin = origin_of(request)
    return as_pdf(drawn(sheets, school=school, paper=paper, origin=origin), "loan-sheets")


def parse_date_or_none(said: str) -> date | None:
    try:
        return date.fromisoformat(said)
    except ValueError:
        return None


def batch_sheets(request: SeatedRequest) -> HttpResponse:
    """The sheets of a class in one PDF: those that wait for nothing but the signature. A batch that is not whole,
    or has no such sheet, goes back to the page that says why."""
    school = request.seat.school
    page = reverse("loans:batch", args=[school.slug])
    address = f"{page}?{request.GET.urlencode()}"
    if "pair" not in request.GET:
        return redirect(page)
    batch = batch_from(request.GET, school, timezone.localdate(request.now), request.seat, address=address)
    if not batch.is_whole or not batch.ready:
        return redirect(address)
    note(request)
    facts = sheet_facts.of_batch(batch, open_findings_of(entry.horn.pk for entry in batch.ready))
    paper = paper_asked(request.GET.get("paper"), school)
    return as_pdf(drawn(facts, school=school, paper=paper, origin=origin_of(request)), "sheets-to-sign")
