"""Prints of the field guide: the four checks for the cupboard door, and a card of each build."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse

from fleet.ground.addresses import origin_of
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models.kinds import build_of
from fleet.reports.paper.guide import cards_drawn, poster_drawn
from fleet.reports.sheet.page import as_pdf, paper_asked
from identify.guide import groups


def checks_poster(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    address = origin_of(request) + reverse("identify:walk", args=[school.slug])
    paper = paper_asked(request, school)
    return as_pdf(poster_drawn(school=school.name, paper=paper, address=address), "four-checks")


def build_cards(request: SeatedRequest) -> HttpResponse:
    """The card of the `build` asked for, else of every one."""
    school = request.seat.school
    one = build_of(request.GET.get("build", ""))
    builds = [one] if one else [build for group in groups() for build in group.builds]
    paper = paper_asked(request, school)
    return as_pdf(cards_drawn(builds, school=school.name, paper=paper), f"kinds-{one.code}" if one else "kinds")
