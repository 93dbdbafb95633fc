"""A repair job: opened, read, changed."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.ground.access import HEADS
from fleet.ground.answering import status_of
from fleet.ground.badges import money
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions import jobs
from fleet.workshop.forms.jobs import JobForm, JobNewForm
from fleet.workshop.forms.parts import UseForm
from fleet.workshop.models import RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries import bench
from fleet.workshop.queries.condition import newest_of_each, open_findings
from fleet.workshop.queries.parts import stock_of
from fleet.workshop.queries.warranty import back_again
from fleet.workshop.queries.worth import Suggestion, cost_so_far, expected_cost, suggest, years_since


def job_new(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    school = request.seat.school
    there = horn.jobs.filter(closed_at=None).first()
    if there is not None and request.method != "POST":
        return redirect("workshop:job", school.slug, there.pk)
    known = open_findings(horn)
    usual = bench.usual_minutes([finding.entry for finding in known])
    form = JobNewForm(request.POST if request.method == "POST" else None, known=known, school=school, usual=usual)
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            opened = jobs.open_job(horn=horn, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{horn} is on the bench list.")
            return redirect("workshop:job", school.slug, opened.pk)
    context = {
        "form": form,
        "horn": horn,
        "refused": refused,
        "cautions": catalogue().cautions_for(finding.fault for finding in known),
    }
    return render(request, "workshop/job_new.html", context, status=status_of(request, refused))


def job(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    shown = get_object_or_404(
        RepairJob.objects.at(school).select_related("horn", "technician", "opened_by", "approved_by"), pk=pk
    )
    findings = newest_of_each(shown.findings.order_by("check_made__at", "pk"))
    left = [finding for finding in findings if finding.mended_at is None]
    steps = list(shown.steps.select_related("by"))
    form = _job_form(request, shown, left, seen=steps[-1].pk if steps else 0)
    refused = None
    if form is not None and form.is_bound and form.is_valid():
        try:
            changed = jobs.change_job(
                job=shown, by=request.user, at=request.now, seen=form.cleaned_data["seen"], work=form.work()
            )
        except Refused as no:
            refused = no
            # Saving once more is then a decision taken with both versions in view.
            form.beside(shown, steps[-1].pk if steps else 0)
        else:
            return _after(request, changed)
    context = {
        "job": shown,
        "horn": shown.horn,
        "findings": findings,
        "reports": shown.fault_reports.select_related("pupil"),
        "steps": steps,
        "form": form,
        "refused": refused,
        "cautions": catalogue().cautions_for(finding.fault for finding in left),
        "back_again": back_again(shown, school),
        **_parts_of(request, shown, left, with_form=form is not None),
        "worth": _worth(request, shown, left) if shown.is_open and request.seat.role in HEADS else None,
        "needs_approval": shown.needs_approval(school.approve_above),
        "overdue": shown.expected_on and not shown.back_on and shown.expected_on < timezone.localdate(request.now),
    }
    return render(request, "workshop/job.html", context, status=status_of(request, refused))


def _parts_of(request: SeatedRequest, job: RepairJob, left: list[Any], *, with_form: bool) -> dict[str, Any]:
    """Parts that are in the job, those its faults want in vain, and the form for taking more. Two queries."""
    shelf = stock_of(request.seat.school)
    used = list(job.parts_used.select_related("part"))
    had = Counter[int]()
    for one in used:
        had[one.part_id] += one.count
    codes = [finding.fault for finding in left]
    # What the faults want comes first, then whatever lies there.
    wanted = next((part for part, _ in shelf.wanting(codes, used=had)), None) or next(
        (part for part in shelf.parts if part.on_hand), None
    )
    use = (
        UseForm(parts=shelf.parts, initial={"part": wanted.pk if wanted else None})
        if with_form and shelf.parts
        else None
    )
    return {"used": used, "use": use, "missing": shelf.missing(codes, used=had) if job.is_open else ()}


def _worth(request: SeatedRequest, job: RepairJob, left: list[Any]) -> Suggestion:
    """Mend or replace, for those who may know what a horn is worth. Three queries."""
    school, horn = request.seat.school, job.horn
    minutes = job.minutes if job.minutes is not None else bench.usual_minutes([finding.entry for finding in left])
    parts = stock_of(school).wanted(finding.fault for finding in left).items()
    return suggest(
        so_far=cost_so_far(horn),
        expected=expected_cost(job, school, minutes=minutes, parts=parts),
        value=horn.value,
        age=years_since(horn.acquired_on, timezone.localdate(request.now)),
    )


def _job_form(request: SeatedRequest, shown: RepairJob, left: list[Any], *, seen: int) -> JobForm | None:
    """The form for those who may change an open job. A change to one that was closed meanwhile is still read,
    so that it can be answered."""
    if not request.seat.may("workshop:job", write=True) or (not shown.is_open and request.method != "POST"):
        return None
    names = ("state", "technician", "minutes", "parts", "cost", "notes")
    return JobForm(
        request.POST.dict() if request.method == "POST" else None,
        school=request.seat.school,
        usual=bench.usual_minutes([finding.entry for finding in left]),
        initial={"seen": seen, **{name: getattr(shown, name) for name in names}},
    )


def _after(request: SeatedRequest, changed: RepairJob) -> HttpResponse:
    slug = request.seat.school.slug
    if changed.needs_approval(request.seat.school.approve_above):
        asked = money(changed.asked, request.seat.school.currency)
        messages.warning(request, f"The {changed.asks_with} of {asked} waits for a head’s word.")
    if changed.state == RepairJob.State.DONE:
        messages.success(request, "The job is done. Play the horn and check it now: the check sets its grade.")
        query = {"occasion": "after-repair", "next": reverse("workshop:bench", args=(slug,))}
        return redirect(reverse("workshop:check-new", args=(slug, changed.horn_id), query=query))
    messages.success(request, f"The job is saved: {changed.get_state_display()}.")
    if changed.is_open:
        return redirect("workshop:job", slug, changed.pk)
    return redirect("workshop:bench", slug)
