"""The words that guardians sign, and a new version of them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.forms.agreements import AgreementForm


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
