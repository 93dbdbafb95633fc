"""Prints of a count: the sheet to count with, and the report that is kept."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from fleet.counting.models import Count, Line
from fleet.counting.queries.facts import of_count
from fleet.ground.wording import in_reading_order
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.paper.counts import count_report_drawn, count_sheet_drawn
from fleet.reports.sheet.page import as_pdf, paper_asked


def count_sheet(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    count = get_object_or_404(Count.objects.at(school), pk=pk)
    listed = sorted(
        Line.objects.filter(count=count, expected=True).order_by("place_words", "pk"),
        key=lambda line: in_reading_order(line.place_words),
    )
    paper = paper_asked(request, school)
    return as_pdf(count_sheet_drawn(count, listed, school=school, paper=paper), f"count-sheet-{count.pk}")


def count_report(request: SeatedRequest, pk: int) -> HttpResponse:
    """How a count stands or ended; the same words every time once it is signed."""
    school = request.seat.school
    count = get_object_or_404(Count.objects.at(school).select_related("started_by", "ended_by", "signed_by"), pk=pk)
    paper = paper_asked(request, school)
    return as_pdf(count_report_drawn(of_count(count), school=school, paper=paper), f"count-report-{count.pk}")
