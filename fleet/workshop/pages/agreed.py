"""Buttons about what is agreed: beside each fault of a job, and beside the quotes of other repairers."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from fleet.ground.answering import answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.agreed import add_quote, drop_quote, settle, take_quote
from fleet.workshop.forms.agreed import FaultSaidForm, QuoteForm, QuotePressedForm
from fleet.workshop.models import RepairJob


def job_fault(request: SeatedRequest, pk: int) -> HttpResponse:
    job, who = _job(request, pk)
    form = FaultSaidForm(posted(request))
    to = request.seat.here("workshop:job", job.pk)
    return answer_elsewhere(request, form, lambda: settle(**form.cleaned_data, **who), to=to)


def job_quote(request: SeatedRequest, pk: int) -> HttpResponse:
    """Keeps another repairer's quote, takes it or removes it; what cannot be is said on the page of the repairer."""
    job, who = _job(request, pk)
    to = request.seat.here("workshop:job-outside", job.pk)
    pressed = QuotePressedForm(posted(request))
    if "do" in pressed.data:

        def press() -> None:
            act = take_quote if pressed.takes else drop_quote
            act(quote=pressed.quote, **who)

        return answer_elsewhere(request, pressed, press, to=to)
    form = QuoteForm(posted(request), school=request.seat.school)
    return answer_elsewhere(request, form, lambda: add_quote(**form.cleaned_data, **who), to=to)


def _job(request: SeatedRequest, pk: int) -> tuple[RepairJob, dict[str, Any]]:
    job = get_object_or_404(RepairJob.objects.at(request.seat.school).select_related("horn"), pk=pk)
    return job, {"job": job, "by": request.user, "at": request.now}
