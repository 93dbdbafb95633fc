"""The page that puts a finished walk on record: on a horn the register has, or on a new one.

The walk's answers come in the address, as everywhere; what they amount to is computed here again.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import identifying
from fleet.register.forms.identifying import AS_NEW, IdentifiedForm
from fleet.register.models import Horn
from fleet.register.models.kinds import kind_and_stand
from fleet.register.pages.listening import in_hand
from fleet.register.queries.numbers import next_free
from identify import pages as walk_pages
from identify.core.reasoning.verdict import assess
from identify.walk import RESULT, Walk, read_walk

SHOWN_FIRST = 6


def walk(request: SeatedRequest) -> HttpResponse:
    """The walk of `identify`, which knows nothing of registers, with what this school has confirmed so far."""
    asked = read_walk(request.GET).horn
    horn = Horn.objects.at(request.seat.school).filter(pk=int(asked)).first() if asked else None
    mix = identifying.confirmed_mix(request.seat.school, besides=int(asked or 0))
    return walk_pages.walk(request, mix=mix, in_hand=in_hand(horn) if horn else None)


def identified(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    walk = read_walk(request.GET)
    horn = get_object_or_404(Horn.objects.at(school), pk=int(walk.horn)) if walk.horn else None
    mix = identifying.confirmed_mix(school, besides=horn.pk if horn else 0)
    verdict = assess(walk.observations, mix=mix)
    suggested = next_free(school)
    form = IdentifiedForm(
        request.POST or None,
        school=school,
        verdict=verdict,
        initial={"number": suggested, "suggested": suggested, "horn_number": horn.number if horn else ""},
    )
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            found = _keep(request, form, walk)
        except Refused as no:
            refused = no
        else:
            return redirect("desk:horn", school.slug, found.pk)
    return render(
        request,
        "register/identified.html",
        _shown(request, form, walk, horn, refused),
        status=status_of(request, refused),
    )


def _keep(request: SeatedRequest, form: IdentifiedForm, walk: Walk) -> Horn:
    build, stands_in = form.build_and_stand
    finding: dict[str, Any] = {
        "observations": walk.observations,
        "build": build,
        "stands_in": stands_in,
        "by": request.user,
        "at": request.now,
    }
    words = kind_and_stand(build, stands_in)
    if form.horn is not None:
        identifying.put_on_horn(horn=form.horn, **finding)
        messages.success(request, f"{form.horn.number} is on record as a {words}.")
        return form.horn
    asked = form.cleaned_data["number"]
    horn = identifying.register_as_found(
        school=request.seat.school,
        particulars=form.particulars,
        suggested=form.cleaned_data["suggested"],
        **finding,
    )
    taken = f" Somebody took {asked} a moment ago." if horn.number != asked else ""
    messages.success(request, f"Registered as {horn.number}, a {words}.{taken}")
    return horn


def _shown(
    request: SeatedRequest, form: IdentifiedForm, walk: Walk, horn: Horn | None, refused: Refused | None
) -> dict[str, Any]:
    school = request.seat.school
    offered = form.offered
    likely = [one for place, one in enumerate(offered) if place < SHOWN_FIRST or one.checked]
    return {
        "form": form,
        "walk": walk,
        "verdict": form.verdict,
        "likely": likely,
        "unlikely": [one for one in offered if one not in likely],
        "observed": walk.observed(),
        "horn": horn,
        "now": kind_and_stand(horn.build, horn.stands_in) if horn else "",
        "unknown": list(Horn.objects.at(school).unidentified().order_by("number_stem", "number_tail", "pk")[:50]),
        "back": reverse("identify:walk", args=(school.slug,)) + walk.address(RESULT),
        "refused": refused,
        "as_new_first": form.data.get("act") == AS_NEW or horn is None,
    }
