"""Recording after a return that the mouthpiece was cleaned."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.lending.actions import returning
from fleet.lending.forms.returning import MouthpieceForm
from fleet.lending.models import Loan
from fleet.lending.pages.loans import loan_of_school
from fleet.lending.queries.lendable import way_out_of
from fleet.people.queries.seats import SeatedRequest


def mouthpiece(request: SeatedRequest, pk: int) -> HttpResponse:
    ended = loan_of_school(request, pk)
    form = MouthpieceForm(request.POST if request.method == "POST" else None, today=timezone.localdate(request.now))
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            returning.record_mouthpiece_cleaned(
                loan=ended, cleaned_on=form.cleaned_data["cleaned_on"], by=request.user, at=request.now
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"The mouthpiece of {ended.horn} is clean.")
            return redirect("desk:horn", request.seat.school.slug, ended.horn_id)
    context = {"loan": ended, "form": form, **_no(request, refused, ended)}
    return render(request, "loans/mouthpiece.html", context, status=status_of(request, refused))


def _no(request: SeatedRequest, refused: Refused | None, loan: Loan) -> dict[str, Any]:
    return {"refused": refused, "way_out": way_out_of(refused, loan.horn, request.seat)}
