"""The bench list, and the jobs of today's visit."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _s

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer_elsewhere, posted
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.queries.asked_for import horn_told
from fleet.workshop.actions.jobs import move_job
from fleet.workshop.forms.bench import MOVED, BenchFilter, LabelForm, MoveAllForm, VisitForm
from fleet.workshop.models import FaultReport, RepairJob
from fleet.workshop.queries.bench_day import bench_day
from fleet.workshop.queries.in_turn import in_turn, turns, turns_of, waits_here, with_jobs
from fleet.workshop.queries.parts import stock_of
from fleet.workshop.queries.visit import plan

PER_PAGE = 50
FEW = 20


def bench_list(request: SeatedRequest) -> HttpResponse:
    """The open jobs in turn; a label scanned here leads to what is next with its horn."""
    label, seat = LabelForm(request.GET).told, request.seat
    horn = horn_told(seat.school, label) if label else None
    if horn is not None:
        way = waits_here(horn)
        # Where nothing waits, a first look.
        return redirect(way.address(seat.school.slug) if way else seat.here("workshop:check-new", horn.pk))
    return render(request, "workshop/bench.html", {"label": label, **_shown(request)})


def bench_move(request: SeatedRequest) -> HttpResponse:
    """One tap for all jobs that are ticked; one that cannot go is told and does not stop the rest."""
    form = MoveAllForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: _move(request, form.cleaned_data["jobs"], form.cleaned_data["do"]),
        to=way_back(request, request.seat.here("workshop:bench")),
        said=lambda moved: (
            _s("%(moved)s of them: %(state)s.") % {"moved": moved, "state": MOVED[form.cleaned_data["do"]]}
            if moved
            else ""
        ),
    )


def _move(request: SeatedRequest, seen: dict[int, int], state: str) -> int:
    moved = 0
    ticked = RepairJob.objects.at(request.seat.school).filter(pk__in=seen).order_by("horn")
    for job in ticked.select_related("horn", "technician"):
        try:
            move_job(job=job, by=request.user, at=request.now, seen=seen[job.pk], state=state)
        except Refused as no:
            messages.warning(request, no.sentence)
        else:
            moved += 1
    return moved


def _shown(request: SeatedRequest) -> dict[str, Any]:
    school = request.seat.school
    form = BenchFilter(request.GET)
    state, technician_id = form.asked(request.user)
    context: dict[str, Any] = {"form": form, "filtered": bool(state or technician_id is not None)}
    if state in RepairJob.OPEN or not state:
        jobs = in_turn(school, state=state, technician_id=technician_id)
        page = Paginator(jobs, PER_PAGE).get_page(request.GET.get("page"))
        shown = with_jobs(turns_of(list(page), school, request.today, stock_of(school)))
        context |= {
            "page": page,
            "turns": shown,
            "is_here": [turn for turn in shown if turn.is_here],
            "not_here": [turn for turn in shown if not turn.is_here],
        }
    else:
        closed = RepairJob.objects.at(school).filter(state=state).order_by("-closed_at", "-pk")
        if technician_id is not None:
            closed = closed.filter(technician_id=technician_id or None)
        # Old jobs are many: their numbers first, then the rows of this page only.
        numbers = Paginator(closed.values_list("pk", flat=True), PER_PAGE).get_page(request.GET.get("page"))
        rows = RepairJob.objects.select_related("horn", "technician").in_bulk(list(numbers))
        context |= {"page": numbers, "closed": [rows[pk] for pk in numbers]}
    pressing = FaultReport.objects.at(school).unanswered().most_pressing_first().values_list("pk", flat=True)[:FEW]
    reports = FaultReport.objects.filter(pk__in=list(pressing)).select_related("horn").most_pressing_first()
    context |= {
        "reports": reports,
        "to_check": Horn.objects.at(school)
        .mended_unchecked()
        .select_related("place")
        .order_by("mended_on", "pk")[:FEW],
    }
    return context


def visit_plan(request: SeatedRequest) -> HttpResponse:
    """The set of jobs that frees most horns in the minutes of today's visit, and what waits beside them."""
    form, today = VisitForm(request.GET or None), request.today
    context: dict[str, Any] = {"form": form, "beside": bench_day(request.seat.school, today)}
    if form.is_valid():
        context["visit"] = plan(with_jobs(turns(request.seat.school, today)), form.cleaned_data["minutes"])
    return render(request, "workshop/visit.html", context)
