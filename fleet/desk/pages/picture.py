"""The whole picture, for heads: plots with the tables that say the same."""

from __future__ import annotations

from dataclasses import replace

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import mark_safe

from fleet.matching.queries.buying import AT_ONCE, pupils_in_classes, to_buy
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.pages.yearly import until_asked
from fleet.reports.queries.figures import figures
from fleet.reports.queries.whole_picture import sections
from identify.core.drawing.picture import svg


def picture(request: SeatedRequest) -> HttpResponse:
    today = timezone.localdate(request.now)
    school = request.seat.school
    told = figures(school, until_asked(request, today), buying=False)
    if "buy" in request.GET or told.horns * pupils_in_classes(school) <= AT_ONCE:
        told = replace(told, lacks=to_buy(school))
    shown = [
        (section, mark_safe(svg(section.plot, f"plot-{section.key}")) if section.plot else "")  # noqa: S308 - our drawing
        for section in sections(told)
    ]
    return render(request, "desk/picture.html", {"figures": told, "sections": shown, "today": today})
