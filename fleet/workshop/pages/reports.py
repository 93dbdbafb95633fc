"""A family's report with its answer."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions import reports as reports_actions
from fleet.workshop.forms.reports import ReportAnswerForm
from fleet.workshop.models import FaultReport


def report(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(
        FaultReport.objects.at(request.seat.school).select_related("horn", "pupil", "by", "answered_by"), pk=pk
    )
    form = ReportAnswerForm(request.POST if request.method == "POST" else None)
    refused = None
    if request.method == "POST" and form.is_valid():
        to_bench = request.POST.get("to_bench") == "1"
        try:
            answered = reports_actions.answer_report(
                report=shown, by=request.user, at=request.now, answer=form.cleaned_data["answer"], to_bench=to_bench
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, "The family can read your answer." if answered.answer else "It is on the list.")
            if answered.job_id and to_bench:
                return redirect("workshop:job", request.seat.school.slug, answered.job_id)
            return redirect("workshop:bench", request.seat.school.slug)
    context = {
        "report": shown,
        "horn": shown.horn,
        "form": form,
        "refused": refused,
    }
    return render(request, "workshop/report.html", context, status=status_of(request, refused))
