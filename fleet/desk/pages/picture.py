"""The whole picture, for heads: plots with the tables that say the same."""

from __future__ import annotations

from datetime import date

import django_tables2 as tables
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _s

from fleet.ground.tables import FigureColumn, ListTable
from fleet.people.queries.school_days import years_behind
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.pages.yearly import bench_asked, figures_asked
from fleet.reports.queries.figures import last_months
from fleet.reports.queries.whole_picture import Section, sections
from identify.core.drawing.picture import svg


class SectionTable(ListTable):
    """The figures of a section; the last line is the sum where it has one."""

    class Meta:
        orderable = False
        default = ""

    def __init__(self, section: Section) -> None:
        self.around = {
            "class": "figures",
            "tabindex": "0",
            "role": "region",
            "aria-label": _s("%(heading)s, the figures") % {"heading": section.heading},
        }
        columns = [
            (
                f"c{place}",
                FigureColumn(name, accessor=str(place)) if holds else tables.Column(name, accessor=str(place)),
            )
            for place, (name, holds) in enumerate(section.columns)
        ]
        sums = section.rows[-1:] if section.summed else []
        super().__init__(
            section.rows,
            extra_columns=columns,
            row_attrs={"class": lambda record: "sum" if any(record is one for one in sums) else None},
        )


def _named(end: date) -> str:
    """`2025/26`, or `2026` for a school year that is the calendar’s."""
    first = last_months(end, 12)[0]
    return f"{end:%Y}" if first.year == end.year else f"{first:%Y}/{end:%y}"


def picture(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    told = figures_asked(request)
    shown = [
        (
            section,
            mark_safe(svg(section.plot, f"plot-{section.key}")) if section.plot else "",  # noqa: S308 - our drawing
            SectionTable(section),
        )
        for section in (*sections(told), *bench_asked(told))
    ]
    anything = any(section.rows for section, _, _ in shown)
    context = {"figures": told, "sections": shown, "today": today, "anything": anything}
    context["years"] = [(_named(end), end) for end in years_behind(school.year_ends, today)]
    return render(request, "desk/picture.html", context)
