"""The bench list, and the jobs of today's visit."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.forms.bench import BenchFilter, VisitForm
from fleet.workshop.models import FaultReport, RepairJob
from fleet.workshop.queries import bench
from fleet.workshop.queries.visit import plan

PER_PAGE = 50
FEW = 20


def bench_list(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = BenchFilter(request.GET)
    state, technician_id = form.asked(request.user)
    context: dict[str, Any] = {"form": form, "filtered": bool(state or technician_id is not None)}
    if state in RepairJob.OPEN or not state:
        in_turn = bench.turns(school, timezone.localdate(request.now), state=state, technician_id=technician_id)
        page = Paginator(in_turn, PER_PAGE).get_page(request.GET.get("page"))
        shown = bench.with_jobs(list(page))
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
    reports = FaultReport.objects.at(school).unanswered().select_related("horn").most_pressing_first()
    context |= {
        "reports": reports[:FEW],
        "to_check": Horn.objects.at(school)
        .mended_unchecked()
        .select_related("place")
        .order_by("mended_on", "pk")[:FEW],
    }
    return render(request, "workshop/bench.html", context)


def visit_plan(request: SeatedRequest) -> HttpResponse:
    """The set of jobs that frees most horns in the minutes of today's visit."""
    form = VisitForm(request.GET or None)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        in_turn = bench.turns(request.seat.school, timezone.localdate(request.now))
        planned = plan(in_turn, form.cleaned_data["minutes"])
        rows = {turn.job_id: turn for turn in bench.with_jobs(in_turn)}
        context |= {
            "visit": planned,
            "chosen": [rows[turn.job_id] for turn in planned.chosen if turn.job_id in rows],
            "left_out": [(rows[turn.job_id], why) for turn, why in planned.left_out if turn.job_id in rows],
        }
    return render(request, "workshop/visit.html", context)
