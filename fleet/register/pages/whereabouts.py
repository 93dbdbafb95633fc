"""The page that says what becomes of a horn."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.ground.fields import day_as_time
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import whereabouts
from fleet.register.forms.whereabouts import StandingForm
from fleet.register.models import Horn


def standing(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = StandingForm(request.POST or None, horn=horn, now=request.now)
    refused = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            done = whereabouts.change_standing(
                horn=horn,
                kind=given["kind"],
                reason=given["reason"],
                by=request.user,
                at=day_as_time(given["on"], request.now),
                on=given["on"],
            )
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{horn.number}: {done.get_kind_display()}.")
            return redirect("desk:horn", school.slug, horn.pk)
    shown = {"form": form, "horn": horn, "refused": refused}
    return render(request, "register/standing.html", shown, status=status_of(request, refused))
