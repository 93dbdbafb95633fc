"""A family's report with its answer."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import Seat, SeatedRequest
from fleet.workshop.actions import reports as reports_actions
from fleet.workshop.forms.reports import ReportAnswerForm
from fleet.workshop.models import FaultReport


def report(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    told = FaultReport.objects.at(seat.school).select_related("horn", "pupil", "by", "answered_by")
    shown = get_object_or_404(told, pk=pk)
    form = ReportAnswerForm(posted(request))
    return answer(
        request,
        form,
        lambda: reports_actions.answer_report(report=shown, by=request.user, at=request.now, **form.cleaned_data),
        page="workshop/report.html",
        shown=lambda: {
            "report": shown,
            "horn": shown.horn,
            "on_bench_list": shown.horn.jobs.open().exists(),
        },
        said=lambda answered: _s("The family can read your answer.") if answered.answer else _s("It is on the list."),
        then=lambda answered: _next(seat, answered, to_bench=form.cleaned_data["to_bench"]),
    )


def _next(seat: Seat, answered: FaultReport, *, to_bench: bool) -> str:
    if answered.job_id and to_bench:
        return seat.here("workshop:job", answered.job_id)
    return seat.here("workshop:bench")
