"""The page where a horn is restrung."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import restringing
from fleet.register.forms.restringing import StandForm
from fleet.register.models import Horn
from fleet.register.models.kinds import reversible, stand_in_words
from fleet.register.queries.ways import sound_again


def stand(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    form = StandForm(posted(request), horn=horn, now=request.now)
    return answer(
        request,
        form,
        lambda: restringing.restring(horn=horn, by=request.user, **form.said),
        page="register/stand.html",
        shown=lambda: {
            "horn": horn,
            "reversible": reversible(horn.build),
            "now": horn.in_full,
        },
        said=lambda done: (
            _s("%(number)s stands in %(after)s now. Sound the test note again.")
            % {"number": horn.number, "after": stand_in_words(done.after)}
        ),
        then=lambda done: sound_again(horn, seat.school),
    )


def sound(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to the walk at its test note, with what was seen of this horn before."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    return redirect(sound_again(horn, request.seat.school))
