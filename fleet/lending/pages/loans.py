"""The list of loans, one loan, and the loans of a horn or a pupil."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.tables import as_typed
from fleet.lending.models import Loan, LoanQuerySet
from fleet.lending.pages.table import LoanTable
from fleet.lending.queries.listing import EMPTY, STATES, loans_asked, usual_sort
from fleet.people.models import Pupil
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn


@as_typed
def loans(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    filters = loans_asked(request.GET, school, today)
    state = filters.which
    ended = state in {"ended", ""}
    tickable = state != "ended" and request.seat.may("desk:several-renew", write=True)
    calls = state == "overdue" and request.seat.may("reports:overdue-list")
    columns = {"returned_on": ended, "tick": tickable, "reached": calls}
    table = LoanTable(
        filters,
        usual=usual_sort(state),
        exclude=[name for name, shown in columns.items() if not shown],
        empty_text=_s("Nothing is found.") if request.GET.get("q") else EMPTY.get(state, _s("No loans yet.")),
    )
    RequestConfig(request).configure(table)
    shown = {
        "filters": filters,
        "page": table.data.page,
        "table": table,
        "states": STATES,
        "state": state,
        "tickable": tickable,
    }
    return render(request, "loans/loans.html", shown)


def loan(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = loan_of_school(request, pk)
    note_opening(request, pupil=shown.pupil)
    context = {
        "loan": shown,
        "accessories": list(shown.accessories.select_related("settled_by")),
        "at_issue": shown.found_at_issue,
        "at_return": list(shown.check_at_return.findings.all()) if shown.check_at_return else [],
        "due": shown.due(request.today),
        "periods": shown.periods.select_related("by"),
        "charges": shown.charges.all(),
        "asks": shown.asks.unanswered(),
        "signature": getattr(shown, "online_signature", None),
        "signed_sheets": list(shown.signed_sheets.all()),
    }
    return render(request, "loans/loan.html", context)


def loan_of_school(request: SeatedRequest, pk: int) -> Loan:
    related = (
        "horn",
        "in_place_of__horn",
        "replaced_by__horn",
        "pupil",
        "guardian",
        "agreement",
        "issued_by",
        "returned_to",
        "mouthpiece_cleaned_by",
        "online_signature__signed_by",
        "online_signature__asked_by",
        "check_at_issue__by",
        "check_at_return__by",
    )
    return get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)


def of_horn(request: SeatedRequest, pk: int) -> HttpResponse:
    """Every loan of a horn, the newest first."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    return _history(request, horn.loans.all(), horn=horn)


def of_pupil(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    note_opening(request, pupil=pupil)
    return _history(request, pupil.loans.all(), pupil=pupil)


def _history(request: SeatedRequest, loans: LoanQuerySet, **of: Any) -> HttpResponse:
    loans = loans.select_related("horn", "pupil", "guardian", "replaced_by__horn").prefetch_related(
        "periods", "charges", "accessories"
    )
    page = Paginator(loans, 50).get_page(request.GET.get("page"))
    return render(request, "loans/history.html", {"page": page, **of})
