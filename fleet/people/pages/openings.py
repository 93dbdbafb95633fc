"""The page that shows heads who looked at whose page."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render

from fleet.ground.addresses import whole
from fleet.people.actions import openings as log
from fleet.people.models import Guardian, Opening, Pupil
from fleet.people.queries.seats import SeatedRequest

WORDS = {
    "people:pupil-edit": "particulars",
    "people:guardian-edit": "particulars",
    "loans:of-pupil": "loans",
    "loans:loan": "a loan",
    "loans:letter": "a letter",
    "exchange:pupils-out": "the list of pupils, as a file",
    "exchange:loans-out": "the list of loans, as a file",
    "exchange:horns-out": "the list of horns and who has them, as a file",
    "exchange:past-loans-out": "the list of past loans, as a file",
    "exchange:charges-out": "the list of charges, as a file",
    "reports:class-list": "the list of a class, printed",
    "reports:overdue-list": "the list of what is overdue, printed",
    "reports:overdue-letters": "letters about what is overdue, printed",
    "reports:loan-sheet": "a loan sheet, printed",
    "reports:loan-sheets": "loan sheets, printed",
    "reports:sheet-to-sign": "a sheet to sign, printed",
    "reports:batch-sheets": "sheets to sign, printed",
    "desk:pupil-data": "everything, as a file",
    "desk:pupil-forget": "forgetting",
}


def note_opening(request: SeatedRequest, *, pupil: Pupil | None = None, guardian: Guardian | None = None) -> None:
    """Notes that this person opened, or changed, the page they are on."""
    page = request.resolver_match.view_name if request.resolver_match else ""
    log.note(school=request.seat.school, page=page, pupil=pupil, guardian=guardian, by=request.user, at=request.now)


def openings(request: SeatedRequest) -> HttpResponse:
    rows = Opening.objects.filter(school=request.seat.school).select_related("by", "pupil", "guardian")
    if (pupil := whole(request.GET.get("pupil"))) is not None:
        rows = rows.filter(pupil_id=pupil)
    page = Paginator(rows, 100).get_page(request.GET.get("page"))
    lines = [(one, WORDS.get(one.page, one.page)) for one in page]
    return render(request, "people/openings.html", {"page": page, "lines": lines})
