"""A job at a repairer outside, and a head's word for what it costs."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.ground.answering import status_of
from fleet.ground.badges import money
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.outside import approve as give_word
from fleet.workshop.actions.outside import change_outside
from fleet.workshop.forms.outside import OutsideForm
from fleet.workshop.models import RepairJob


def outside(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    job = get_object_or_404(RepairJob.objects.at(school).select_related("horn", "approved_by"), pk=pk)
    last = job.steps.last()
    names = ("repairer", "quote", "sent_on", "expected_on", "back_on")
    initial: dict[str, Any] = {"seen": last.pk if last else 0, **{name: getattr(job, name) for name in names}}
    posted = request.POST.dict() if request.method == "POST" else None
    form = OutsideForm(posted, school=school, today=timezone.localdate(request.now), initial=initial)
    refused = None
    if posted is not None and form.is_valid():
        try:
            changed = change_outside(
                job=job, by=request.user, at=request.now, seen=form.cleaned_data["seen"], said=form.said()
            )
        except Refused as no:
            refused = no
            form.data = form.data | {"seen": initial["seen"]}  # type: ignore[operator]
        else:
            messages.success(request, f"The job is saved: {changed.get_state_display()}.")
            return redirect("workshop:job", school.slug, job.pk)
    context = {
        "form": form,
        "job": job,
        "horn": job.horn,
        "refused": refused,
    }
    return render(request, "workshop/outside.html", context, status=status_of(request, refused))


def approve(request: SeatedRequest, pk: int) -> HttpResponse:
    """A head's word for the quote or the cost that the job's page showed."""
    school = request.seat.school
    job = get_object_or_404(RepairJob.objects.at(school).select_related("horn"), pk=pk)
    if request.method == "POST":
        try:
            amount = Decimal(request.POST.get("amount", ""))
            give_word(job=job, by=request.user, at=request.now, amount=amount)
        except InvalidOperation:
            messages.error(request, "Say which sum is approved.")
        except Refused as no:
            messages.error(request, no.sentence)
        else:
            messages.success(request, f"{money(amount, school.currency)} approved.")
    return redirect("workshop:job", school.slug, job.pk)
