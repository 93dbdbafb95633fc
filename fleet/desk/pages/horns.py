"""A horn's own page."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render

from fleet.desk.queries.horns import page_of, particulars, pictured, plain_sentence, told_beside
from fleet.desk.queries.next_step import steps
from fleet.ground.access import HEADS
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models.kinds import build_of, reversible
from fleet.register.pages.identifying import next_alike
from identify.guide import origins

# Lines of a horn’s story on one page: some years of a horn that is lent each year.
STORY_PAGE = 40
# So many of them in sight, the rest of the first page in a fold.
NEWEST = 4


def horn(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = page_of(pk, request.seat, request.today)
    if shown is None:
        raise Http404
    horn = shown.now.horn
    build = build_of(horn.build)
    step, *others = steps(shown.now, request.seat)
    lines = Paginator(shown.story.whole(), STORY_PAGE).get_page(request.GET.get("page"))
    in_sight = NEWEST if lines.number == 1 else STORY_PAGE
    return render(
        request,
        "desk/horn.html",
        {
            "horn": horn,
            "shown": shown,
            "sentence": plain_sentence(horn),
            "can_restring": reversible(horn.build) and request.seat.may("register:stand", write=True),
            "step": step,
            "others": [one for one in others if not one.is_told_beside],
            "particulars": particulars(horn, with_value=request.seat.role in HEADS),
            "story": lines,
            "newest": lines[:in_sight],
            "earlier": lines[in_sight:],
            "reports": told_beside(shown.reports, step),
            "next_alike": next_alike(request, horn),
            "origins": origins(build) if build else (),
            **pictured(horn),
        },
    )
