"""The list of loans, one loan, taking a horn back, the mouthpiece, the agreement. Issuing has a file of its own."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.asked import whole
from fleet.loans import actions
from fleet.loans.agreement import current_agreement, write_version
from fleet.loans.forms import AgreementForm, MouthpieceForm
from fleet.loans.lending import way_out_of
from fleet.loans.listing import EMPTY, STATES, LoanFilters, LoanTable, page_of, sort_of
from fleet.loans.models import Agreement, Loan, OnlineSignature
from fleet.people.openings import note
from fleet.refused import Refused, status_of


def loans(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, timezone.localdate(request.now)
    asked = request.GET.copy()
    asked.setdefault("state", "open")
    state = str(asked["state"])
    filters = LoanFilters(asked, queryset=Loan.objects.at(school), school=school, today=today)
    ended = state in {"ended", ""}
    sort = sort_of(asked.get("sort", ""), state=state)
    number = whole(asked.get("page"), most=99_999) or 1
    page = page_of(filters.qs, sort=sort, number=number)
    table = LoanTable(page.rows, school=school, today=today, sort=sort, exclude=() if ended else ("returned_on",))
    table.empty_text = "Nothing is found." if asked.get("q") else EMPTY.get(state, "No loans yet.")
    shown = {"filters": filters, "page": page, "table": table, "states": STATES, "state": state}
    return render(request, "loans/loans.html", shown)


def loan(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = _loan(request, pk)
    note(request, pupil=shown.pupil)
    context = {
        "loan": shown,
        "accessories": list(shown.accessories.all()),
        "at_issue": list(shown.check_at_issue.findings.all()),
        "at_return": list(shown.check_at_return.findings.all()) if shown.check_at_return else [],
        "over": shown.days_over(timezone.localdate(request.now)),
        "periods": shown.periods.select_related("by"),
        "charges": shown.charges.all(),
        "asks": shown.asks.unanswered(),
        "signature": OnlineSignature.objects.filter(loan=shown).first(),
        "replaced_by": Loan.objects.filter(in_place_of=shown).select_related("horn").first(),
    }
    return render(request, "loans/loan.html", context)


def mouthpiece(request: SeatedRequest, pk: int) -> HttpResponse:
    ended = _loan(request, pk)
    form = MouthpieceForm(request.POST if request.method == "POST" else None, today=timezone.localdate(request.now))
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            actions.record_mouthpiece_cleaned(
                loan=ended, cleaned_on=form.cleaned_data["cleaned_on"], by=request.user, at=request.now
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"The mouthpiece of {ended.horn} is clean.")
            return redirect("desk:horn", request.seat.school.slug, ended.horn_id)
    context = {"loan": ended, "form": form, **_no(request, refused, ended)}
    return render(request, "loans/mouthpiece.html", context, status=status_of(request, refused))


def agreement(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    current = current_agreement(school)
    form = AgreementForm(
        request.POST if request.method == "POST" else None, initial={"words": current.words, "seen": current.version}
    )
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            written = write_version(school=school, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"Version {written.version} prints on every sheet from now on.")
            return redirect("loans:agreement", school.slug)
    earlier = Agreement.objects.filter(school=school).exclude(pk=current.pk).select_related("made_by")
    context = {"form": form, "current": current, "earlier": earlier, "refused": refused}
    return render(request, "loans/agreement.html", context, status=status_of(request, refused))


def _loan(request: SeatedRequest, pk: int) -> Loan:
    related = (
        "horn",
        "in_place_of__horn",
        "pupil",
        "guardian",
        "agreement",
        "issued_by",
        "returned_to",
        "mouthpiece_cleaned_by",
        "check_at_issue__by",
        "check_at_return__by",
    )
    return get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)


def _no(request: SeatedRequest, refused: Refused | None, loan: Loan) -> dict[str, Any]:
    return {"refused": refused, "way_out": way_out_of(refused, loan.horn, request.seat)}
