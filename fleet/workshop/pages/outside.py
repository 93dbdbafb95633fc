"""A job at a repairer outside, and a head's word for what it costs."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.ground.badges import money
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.outside import NAMES, change_outside
from fleet.workshop.actions.outside import approve as give_word
from fleet.workshop.forms.agreed import QuoteForm
from fleet.workshop.forms.outside import ApproveForm, OutsideForm
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.agreed import turnarounds


def outside(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    job = get_object_or_404(RepairJob.objects.at(seat.school).select_related("horn", "approved_by"), pk=pk)
    last = job.steps.last()
    seen = last.pk if last else 0
    form = OutsideForm(
        posted(request),
        school=seat.school,
        today=timezone.localdate(request.now),
        initial={"seen": seen, **{name: getattr(job, name) for name in NAMES}},
    )
    return answer(
        request,
        form,
        lambda: change_outside(
            job=job, by=request.user, at=request.now, seen=form.cleaned_data["seen"], said=form.said()
        ),
        page="workshop/outside.html",
        shown=lambda: {
            "job": job,
            "horn": job.horn,
            "quotes": list(job.other_quotes.all()),
            "another": QuoteForm(school=seat.school) if job.is_open else None,
            "turnarounds": turnarounds(seat.school),
        },
        said=lambda changed: f"The job is saved: {changed.get_state_display()}.",
        then=lambda changed: seat.here("workshop:job", job.pk),
        when_refused=lambda: form.go_on_from(seen),
    )


def approve(request: SeatedRequest, pk: int) -> HttpResponse:
    """A head's word for the quote or the cost that the job's page showed."""
    seat = request.seat
    job = get_object_or_404(RepairJob.objects.at(seat.school).select_related("horn"), pk=pk)
    form = ApproveForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: give_word(job=job, by=request.user, at=request.now, **form.cleaned_data),
        to=seat.here("workshop:job", job.pk),
        said=lambda approved: f"{money(approved.approved, seat.school.currency)} approved.",
    )
