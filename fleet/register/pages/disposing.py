"""The pages where giving a horn up is proposed and decided."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions.disposing import decide, propose
from fleet.register.forms.disposing import DecideForm, DisposalForm
from fleet.register.models import Disposal, Horn


def disposal(request: SeatedRequest, pk: int) -> HttpResponse:
    """The proposal for a horn: made here, or shown with how it stands."""
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    there = horn.disposals.exclude(approved=False).select_related("proposed_by", "decided_by").first()
    form = DisposalForm(request.POST or None, initial={"on": timezone.localdate(request.now)})
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            propose(horn=horn, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"Giving {horn} up is proposed. A department head who is not you decides.")
            return redirect("desk:horn", school.slug, horn.pk)
    shown: dict[str, Any] = {"horn": horn, "disposal": there, "form": form, "decide": DecideForm(), "refused": refused}
    return render(request, "register/disposal.html", shown, status=status_of(request, refused))


def disposal_decide(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    there = get_object_or_404(Disposal.objects.at(school).select_related("horn", "proposed_by", "decided_by"), pk=pk)
    form = DecideForm(request.POST or None)
    refused = None
    if request.method == "POST" and form.is_valid():
        approved = request.POST.get("approve") == "yes"
        try:
            decide(
                disposal=there, approved=approved, answer=form.cleaned_data["answer"], by=request.user, at=request.now
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{there.horn}: {'given up' if approved else 'it stays'}.")
            return redirect("register:disposal" if approved else "desk:horn", school.slug, there.horn_id)
    shown = {"horn": there.horn, "disposal": there, "decide": form, "refused": refused}
    return render(request, "register/disposal.html", shown, status=status_of(request, refused))
