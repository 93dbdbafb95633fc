"""The stock of parts, parts going into a job, and a job at a repairer outside."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.refused import Refused, status_of
from fleet.templatetags.fleet_tags import money
from fleet.workshop.forms_parts import OutsideForm, PartForm, UseForm
from fleet.workshop.models import Part, RepairJob
from fleet.workshop.outside import approve as give_word
from fleet.workshop.outside import change_outside
from fleet.workshop.stocking import put_back, save_part, use_part
from fleet.workshop.views_check import way_out


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
        "way_out": way_out(request, refused, job.horn),
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
