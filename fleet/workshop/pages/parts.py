"""The stock of parts, and parts going into a job and back."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.parts import put_back, save_part, use_part
from fleet.workshop.forms.parts import PartForm, PutBackForm, UseForm
from fleet.workshop.models import Part, RepairJob
from fleet.workshop.pages.table import PartTable


def parts(request: SeatedRequest) -> HttpResponse:
    there = list(Part.objects.at(request.seat.school))
    wanting = [part for part in there if part.short]
    return render(request, "workshop/parts.html", {"table": PartTable(there, seat=request.seat), "wanting": wanting})


def part_edit(request: SeatedRequest, pk: int | None = None) -> HttpResponse:
    seat = request.seat
    part = Part(school=seat.school) if pk is None else get_object_or_404(Part.objects.at(seat.school), pk=pk)
    part.school = seat.school
    form = PartForm(posted(request), instance=part)
    return answer(
        request,
        form,
        lambda: save_part(part=form.instance, was=form.cleaned_data["was"], by=request.user, at=request.now),
        page="workshop/part.html",
        shown=lambda: {"new": pk is None},
        said=lambda saved: f"{saved}: {saved.on_hand} there.",
        then=lambda saved: seat.here("workshop:parts"),
        when_refused=form.go_on_from_what_is_there,
    )


def job_part(request: SeatedRequest, pk: int) -> HttpResponse:
    """Takes a part into the job, or puts one back; what cannot be is said on the job's page."""
    seat = request.seat
    job = get_object_or_404(RepairJob.objects.at(seat.school).select_related("horn"), pk=pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    to = seat.here("workshop:job", job.pk)
    back = PutBackForm(posted(request))
    if "back" in back.data:
        return answer_elsewhere(request, back, lambda: put_back(used=back.cleaned_data["back"], **who), to=to)
    use = UseForm(posted(request), parts=list(Part.objects.at(seat.school)))
    return answer_elsewhere(request, use, lambda: use_part(**use.cleaned_data, **who), to=to)
