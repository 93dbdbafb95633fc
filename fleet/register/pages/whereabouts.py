"""The page that says what becomes of a horn."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import whereabouts
from fleet.register.forms.whereabouts import StandingForm
from fleet.register.models import Horn


def standing(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    form = StandingForm(posted(request), horn=horn, now=request.now)
    return answer(
        request,
        form,
        lambda: whereabouts.change_standing(horn=horn, by=request.user, **form.said),
        page="register/standing.html",
        shown=lambda: {"horn": horn, "given_up": horn.disposals.filter(approved=True).first()},
        said=lambda done: f"{horn.number}: {done.get_kind_display()}.",
        then=lambda done: seat.here("desk:horn", horn.pk),
    )
