"""The page that shows heads who looked at whose page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from fleet.ground.addresses import whole
from fleet.ground.tables import Computed, ListTable
from fleet.people.actions import openings as log
from fleet.people.models import Guardian, Opening, Pupil
from fleet.people.queries.seats import SeatedRequest

WORDS = {
    "people:pupil": "a pupil’s page",
    "people:pupil-edit": "particulars",
    "people:pupil-twice": "what two records of a pupil hold",
    "people:guardian-edit": "particulars",
    "people:guardian-twice": "what two records of a guardian hold",
    "loans:of-pupil": "loans",
    "loans:loan": "a loan",
    "loans:letter": "a letter",
    "loans:sheet-out": "a sheet to sign",
    "loans:sheets-together": "sheets to sign, printed together",
    "loans:signed-sheet": "a signed sheet",
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


class OpeningTable(ListTable):
    around = {"class": "table-wrap rows"}

    at = Computed("When")
    by = Computed("Who")
    about = Computed("About")
    what = Computed("What")

    class Meta:
        orderable = False
        per_page = 25
        empty_text = "Nobody has opened a person’s page yet."

    def render_at(self, record: Opening) -> str:
        return date_format(timezone.localtime(record.at), "j M Y, H:i")

    def render_by(self, record: Opening) -> str:
        return str(record.by)

    def render_about(self, record: Opening) -> str | SafeString:
        about = record.pupil or record.guardian
        return format_html("<bdi>{}</bdi>", about) if about else "many"

    def render_what(self, record: Opening) -> str:
        return WORDS.get(record.page, record.page)


def openings(request: SeatedRequest) -> HttpResponse:
    rows = Opening.objects.filter(school=request.seat.school).select_related("by", "pupil", "guardian")
    if (pupil := whole(request.GET.get("pupil"))) is not None:
        rows = rows.filter(pupil_id=pupil)
    table = OpeningTable(rows)
    RequestConfig(request).configure(table)
    return render(request, "people/openings.html", {"table": table})
