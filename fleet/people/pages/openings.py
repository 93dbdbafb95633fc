"""The page that shows heads who looked at whose page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.addresses import whole
from fleet.ground.badges import drawn
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable
from fleet.people.actions import openings as log
from fleet.people.models import Guardian, Opening, Pupil
from fleet.people.queries.seats import SeatedRequest

WORDS = {
    "people:pupil": _s_lazy("a pupil’s page"),
    "people:pupil-edit": _s_lazy("particulars"),
    "people:pupil-twice": _s_lazy("what two records of a pupil hold"),
    "people:guardian-edit": _s_lazy("particulars"),
    "people:guardian-twice": _s_lazy("what two records of a guardian hold"),
    "loans:of-pupil": _s_lazy("loans"),
    "loans:loan": _s_lazy("a loan"),
    "loans:letter": _s_lazy("a letter"),
    "loans:wishes": _s_lazy("the list of who waits for a horn"),
    "loans:sheet-out": _s_lazy("a sheet to sign"),
    "loans:sheets-together": _s_lazy("sheets to sign, printed together"),
    "loans:signed-sheet": _s_lazy("a signed sheet"),
    "exchange:pupils-out": _s_lazy("the list of pupils, as a file"),
    "exchange:loans-out": _s_lazy("the list of loans, as a file"),
    "exchange:horns-out": _s_lazy("the list of horns and who has them, as a file"),
    "exchange:past-loans-out": _s_lazy("the list of past loans, as a file"),
    "exchange:charges-out": _s_lazy("the list of charges, as a file"),
    "reports:class-list": _s_lazy("the list of a class, printed"),
    "reports:overdue-list": _s_lazy("the list of what is overdue, printed"),
    "reports:overdue-letters": _s_lazy("letters about what is overdue, printed"),
    "reports:loan-sheet": _s_lazy("a loan sheet, printed"),
    "reports:loan-sheets": _s_lazy("loan sheets, printed"),
    "reports:sheet-to-sign": _s_lazy("a sheet to sign, printed"),
    "reports:batch-sheets": _s_lazy("sheets to sign, printed"),
    "desk:pupil-data": _s_lazy("everything, as a file"),
    "desk:pupil-forget": _s_lazy("forgetting"),
}


def note_opening(request: SeatedRequest, *, pupil: Pupil | None = None, guardian: Guardian | None = None) -> None:
    """Notes that this person opened, or changed, the page they are on."""
    page = request.resolver_match.view_name if request.resolver_match else ""
    log.note(school=request.seat.school, page=page, pupil=pupil, guardian=guardian, by=request.user, at=request.now)


class OpeningTable(ListTable):
    around = {"class": "table-wrap rows"}

    at = Computed(_s_lazy("When"))
    by = Computed(_s_lazy("Who"))
    about = Computed(_s_lazy("About"))
    what = Computed(_s_lazy("What"))

    class Meta:
        orderable = False
        per_page = 25
        empty_text = _s_lazy("Nobody has opened a person’s page yet.")

    def render_at(self, record: Opening) -> str:
        return date_format(timezone.localtime(record.at), "SHORT_DATETIME_FORMAT")

    def render_by(self, record: Opening) -> str:
        return str(record.by)

    def render_about(self, record: Opening) -> str | SafeString:
        about = record.pupil or record.guardian
        return drawn("<bdi>{}</bdi>", about) if about else _s("many")

    def render_what(self, record: Opening) -> str:
        return WORDS.get(record.page, record.page)


def openings(request: SeatedRequest) -> HttpResponse:
    rows = Opening.objects.filter(school=request.seat.school).select_related("by", "pupil", "guardian")
    if (pupil := whole(request.GET.get("pupil"))) is not None:
        rows = rows.filter(pupil_id=pupil)
    table = OpeningTable(rows)
    RequestConfig(request).configure(table)
    return render(request, "people/openings.html", {"table": table})
