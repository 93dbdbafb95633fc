"""The yearly report as a print, until the day that is asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from django.http import HttpRequest, HttpResponse

from fleet.ground.addresses import day_said
from fleet.matching.pages.buying import plan_asked
from fleet.matching.queries.buying import AT_ONCE, pupils_in_classes, to_buy
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.paper.yearly_report import yearly_report_drawn
from fleet.reports.queries.bench_figures import bench_figures, bench_sections
from fleet.reports.queries.figures import Figures, figures
from fleet.reports.queries.governors import for_governors
from fleet.reports.queries.whole_picture import Section
from fleet.reports.sheet.page import as_pdf, paper_asked


def until_asked(request: HttpRequest, today: date) -> date:
    """The day in the address when it is one that has come, else today."""
    asked = day_said(request.GET.get("until", ""))
    return asked if asked is not None and date(1990, 1, 1) <= asked <= today else today


def figures_asked(request: SeatedRequest) -> Figures:
    """The figures until the day asked for; what takes long where a school is small, or the address asks for it."""
    school, today = request.seat.school, request.today
    told = figures(school, until_asked(request, today), whole="whole" in request.GET)
    if "buy" in request.GET or told.horns * pupils_in_classes(school) <= AT_ONCE:
        return replace(told, to_buy=to_buy(school))
    return told


def bench_asked(told: Figures) -> list[Section]:
    """What the workshop did in the time of these figures; nothing for a `brief` picture."""
    return [] if told.brief else bench_sections(bench_figures(told.school, told.since, told.until))


def yearly_report(request: SeatedRequest) -> HttpResponse:
    """The report; with a plan of buying where the address asks for one as its page does."""
    school, told = request.seat.school, figures_asked(request)
    paper = paper_asked(request, school)
    _, plan = plan_asked(request)
    return as_pdf(
        yearly_report_drawn(told, asked=for_governors(told), bench=bench_asked(told), plan=plan, paper=paper),
        f"yearly-report-{told.until:%Y-%m-%d}",
    )
