"""Recording after a return that the mouthpiece was cleaned."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.lending.actions import returning
from fleet.lending.forms.returning import MouthpieceForm
from fleet.lending.pages.loans import loan_of_school
from fleet.lending.queries.loans import last_ended
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn


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
    context = {"loan": ended, "form": form, "refused": refused}
    return render(request, "loans/mouthpiece.html", context, status=status_of(request, refused))


def mouthpiece_of(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to recording the cleaning after the horn's last loan, for those who know the horn only."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    last = last_ended(horn)
    if last is None:
        messages.info(request, f"{horn} has not been lent yet, so there is no cleaning to record.")
        return redirect("desk:horn", request.seat.school.slug, pk)
    return redirect("loans:mouthpiece", request.seat.school.slug, last.pk)
