"""The buttons beside each fault of a job."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from fleet.ground.answering import answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.agreed import settle, take_in
from fleet.workshop.forms.agreed import FaultSaidForm, TakeInForm
from fleet.workshop.pages.jobs import job_asked
from fleet.workshop.queries.agreed import beside


def job_fault(request: SeatedRequest, pk: int) -> HttpResponse:
    job = job_asked(request, pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    to = request.seat.here("workshop:job", job.pk)
    taken = TakeInForm(posted(request))
    if "take_in" in taken.data:
        return answer_elsewhere(request, taken, lambda: take_in(faults=taken.faults(beside(job)), **who), to=to)
    form = FaultSaidForm(posted(request))
    return answer_elsewhere(request, form, lambda: settle(**form.cleaned_data, **who), to=to)
