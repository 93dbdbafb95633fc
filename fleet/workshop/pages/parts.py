"""The stock of parts, and parts going into a job and back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.parts import put_back, save_part, use_part
from fleet.workshop.forms.parts import PartForm, UseForm
from fleet.workshop.models import Part, RepairJob


def parts(request: SeatedRequest) -> HttpResponse:
    there = list(Part.objects.at(request.seat.school))
    wanting = [part for part in there if part.short]
    return render(request, "workshop/parts.html", {"parts": there, "wanting": wanting})


def part_edit(request: SeatedRequest, pk: int | None = None) -> HttpResponse:
    school = request.seat.school
    part = Part(school=school) if pk is None else get_object_or_404(Part.objects.at(school), pk=pk)
    part.school = school
    form = PartForm(request.POST if request.method == "POST" else None, instance=part)
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            saved = save_part(part=form.save(commit=False), was=form.cleaned_data["was"])
        except Refused as no:
            refused = no
            now = Part.objects.get(pk=part.pk).on_hand
            form.data = form.data.dict() | {"was": now, "mends": form.data.getlist("mends")}  # type: ignore[attr-defined]
        else:
            messages.success(request, f"{saved}: {saved.on_hand} there.")
            return redirect("workshop:parts", school.slug)
    context = {"form": form, "new": pk is None, "refused": refused}
    return render(request, "workshop/part.html", context, status=status_of(request, refused))


def job_part(request: SeatedRequest, pk: int) -> HttpResponse:
    """Takes a part into the job, or puts one back; what cannot be is said on the job's page."""
    school = request.seat.school
    job = get_object_or_404(RepairJob.objects.at(school).select_related("horn"), pk=pk)
    if request.method == "POST":
        back = request.POST.get("back", "")
        form = UseForm(request.POST, parts=list(Part.objects.at(school)))
        try:
            if back.isdecimal():
                put_back(job=job, used=int(back[:18]), by=request.user, at=request.now)
            elif form.is_valid():
                use_part(job=job, by=request.user, at=request.now, **form.cleaned_data)
            else:
                for sentences in form.errors.values():
                    messages.error(request, str(sentences[0]))
        except Refused as no:
            messages.error(request, no.sentence)
    return redirect("workshop:job", school.slug, job.pk)
