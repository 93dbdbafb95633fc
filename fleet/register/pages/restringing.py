"""The page where a horn is restrung."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.ground.fields import day_as_time
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import restringing
from fleet.register.forms.restringing import StandForm
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand, reversible, stand_in_words
from fleet.register.queries.ways import sound_again


def stand(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = StandForm(request.POST or None, horn=horn, now=request.now)
    refused = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            restringing.restring(
                horn=horn,
                stands_in=given["stands_in"],
                reason=given["reason"],
                by=request.user,
                at=day_as_time(given["on"], request.now),
            )
        except Refused as no:
            refused = no
        else:
            stands = stand_in_words(given["stands_in"])
            messages.success(request, f"{horn.number} stands in {stands} now. Sound the test note again.")
            return redirect(sound_again(horn, school))
    shown = {
        "form": form,
        "horn": horn,
        "reversible": reversible(horn.build),
        "now": kind_and_stand(horn.build, horn.stands_in),
        "refused": refused,
    }
    return render(request, "register/stand.html", shown, status=status_of(request, refused))


def sound(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to the walk at its test note, with what was seen of this horn before."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    return redirect(sound_again(horn, request.seat.school))
