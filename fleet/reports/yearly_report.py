"""The yearly report: the whole picture on paper, plots and tables, for the twelve months until a day."""

from __future__ import annotations

from datetime import date
from io import BytesIO

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.dateformat import format as dated
from django.utils.dateparse import parse_date

from fleet.access import SeatedRequest
from fleet.reports.figures import Figures, figures
from fleet.reports.page import BODY_END, BODY_TOP, WIDTH, Page, as_pdf, paper_asked
from fleet.reports.pictured import draw
from fleet.reports.ruled import Column, heading, rows, said
from fleet.reports.whole_picture import Section, sections

ROW = 5.6  # mm, a row of one line
# Millimetres a unit of a plot takes on paper.
SCALE = 0.28


def until_asked(request: HttpRequest, today: date) -> date:
    """The day in the address when it is one that has come, else today."""
    try:
        asked = parse_date(request.GET.get("until", ""))
    except ValueError:
        asked = None
    return asked if asked is not None and date(1990, 1, 1) <= asked <= today else today


def yearly_report(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    told = figures(school, until_asked(request, timezone.localdate(request.now)))
    paper = paper_asked(request.GET.get("paper"), school)
    return as_pdf(drawn(told, paper=paper), f"yearly-report-{told.until:%Y-%m-%d}")


def drawn(told: Figures, *, paper: str) -> bytes:
    """The document as PDF. No query."""
    out = BytesIO()
    page = Page(out, school=told.school.name, title=f"Yearly report, {dated(told.until, 'j F Y')}", paper=paper)
    spent = f"{told.spent:,.2f} {told.school.currency}"
    opening = (
        f"{told.horns} horns are kept, {told.out} of them out on loan. Repairs that ended since "
        f"{dated(told.since, 'j F Y')} cost {spent}. "
        "What there is, where it is and what is idle is as of the day of printing."
    )
    y = said(page, BODY_TOP, opening, size=10)
    for section in sections(told):
        y = _section(page, y, section)
    page.close()
    return out.getvalue()


def _section(page: Page, y: float, section: Section) -> float:
    plot = section.plot
    high = plot.height * SCALE if plot is not None else 0.0
    # A plot too high for any page is left to its table.
    if high > BODY_END - BODY_TOP - 40:
        plot, high = None, 0.0
    # Together on a page where it fits one: a table is read with its plot before the eyes.
    whole = high + 22.0 + ROW * len(section.rows)
    y = heading(page, y + 2.0, section.heading, keep=whole if whole < BODY_END - BODY_TOP - 12.0 else high + 22.0)
    page.entry(section.heading)
    y = said(page, y, section.sentence, grey=True)
    if plot is not None:
        y = draw(page, plot, 0, y, SCALE) + 1.0
    if not section.rows:
        return y
    figures_wide = 22.0
    words = sum(1 for _, holds_figures in section.columns if not holds_figures)
    rest = (WIDTH - figures_wide * (len(section.columns) - words)) / words
    columns = [Column(name, figures_wide if holds else rest, holds) for name, holds in section.columns]
    return rows(page, y, columns, section.rows)
