"""Counting at one place, on a phone: taps sent as forms, or by script that keeps them until they arrive."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from fleet.access import SeatedRequest
from fleet.counting import actions, standing
from fleet.counting.forms import SawForm, taps
from fleet.counting.models import Count, Sighting
from fleet.people.models import School
from fleet.refused import Refused
from fleet.register.models import Horn, Place

UNKNOWN = "No horn of this school has the number or label “{}”. Look at it again, or register the horn."


def place_asked(school: School, asked: str | None) -> Place | None:
    """The place of that key; None for a key of no place of this school, as for none."""
    if not asked or not asked.isascii() or not asked.isdigit() or len(asked) > 18:
        return None
    return Place.objects.filter(school=school, pk=int(asked)).first()


def shelf(request: SeatedRequest, pk: int) -> HttpResponse:
    """The horns that belong at a place, and the way to say which are there."""
    school = request.seat.school
    count = get_object_or_404(Count.objects.at(school), pk=pk)
    place = place_asked(school, request.GET.get("place"))
    if not count.is_open and request.method != "POST":
        return redirect("counting:count", school.slug, pk)
    refused = None
    form = SawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        note = request.POST.get(f"note-{given['horn']}", "")[:300].strip()
        try:
            seen = _see(count, place, given["key"], given["horn"], given["number"], note, request)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{seen.line}: seen{f' at {place}' if place else ''}.")
            query = f"?place={place.pk}" if place else ""
            return redirect(reverse("counting:shelf", args=(school.slug, pk)) + query)
    elif request.method == "POST":
        refused = Refused("What was sent cannot be read. Type the register number as it stands on the horn.")
    scanned = standing.horn_told(school, request.GET["label"]) if request.GET.get("label") else None
    context = {
        "count": count,
        "place": place,
        "lines": standing.lines_at(count, place.pk if place else None),
        "places": Place.objects.filter(school=school).order_by("room", "shelf", "pk"),
        "form": form,
        "refused": refused,
        "scanned": scanned,
        "key": uuid.uuid4(),
    }
    return render(request, "counting/shelf.html", context)


def _see(
    count: Count, place: Place | None, key: str, horn: int | None, number: str, note: str, request: SeatedRequest
) -> Sighting:
    school = request.seat.school
    if horn is not None:
        found = Horn.objects.at(school).select_related("place").filter(pk=horn).first()
    elif number.strip():
        found = standing.horn_told(school, number)
    else:
        raise Refused("Type the register number, or tap a horn.")
    if found is None:
        raise Refused(UNKNOWN.format(number.strip() or horn))
    # One page, one key, one button a horn: a button tapped twice is one sighting.
    own = f"{key}-{found.pk}"[:64]
    return actions.see(count=count, horn=found, place=place, key=own, note=note, by=request.user, at=request.now)


def sent(request: SeatedRequest, pk: int) -> HttpResponse:
    """What a phone kept and sends now, and how the place stands: `{"taken": [key], "refused": {key: sentence},
    "seen": [horn], "open": bool}`. Each tap is written by itself, so that one that is refused holds up no other."""
    school = request.seat.school
    count = get_object_or_404(Count.objects.at(school), pk=pk)
    if request.method != "POST":
        return redirect("counting:count", school.slug, pk)
    told = taps(request.body)
    if told is None:
        return JsonResponse({"sentence": "What was sent cannot be read."}, status=422)
    taken, refused = [], {}
    places = {
        one.pk: one for one in Place.objects.filter(school=school, pk__in={tap.place for tap in told if tap.place})
    }
    for tap in told:
        horn = (
            Horn.objects.at(school).select_related("place").filter(pk=tap.horn).first()
            if tap.horn
            else standing.horn_told(school, tap.number)
        )
        try:
            if horn is None:
                raise Refused(UNKNOWN.format(tap.number or tap.horn))
            if tap.place and tap.place not in places:
                raise Refused("There is no such place at this school.")
            actions.see(
                count=count,
                horn=horn,
                place=places.get(tap.place or 0),
                key=tap.key,
                note=tap.note,
                waited=tap.waited,
                by=request.user,
                at=request.now,
            )
        except Refused as no:
            refused[tap.key] = no.sentence
        else:
            taken.append(tap.key)
    place = place_asked(school, request.GET.get("place"))
    here = Sighting.objects.filter(count=count, place=place).standing().values_list("line__horn", flat=True)
    answer = {"taken": taken, "refused": refused, "seen": sorted(set(here)), "open": count.is_open}
    return JsonResponse(answer)


def undo(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    sighting = get_object_or_404(Sighting.objects.filter(count__school=school).select_related("count", "line"), pk=pk)
    if request.method == "POST":
        try:
            actions.take_back(sighting=sighting, by=request.user, at=request.now)
        except Refused as no:
            messages.error(request, no.sentence)
        else:
            messages.success(request, f"{sighting.line}: taken back.")
    query = f"?place={sighting.place_id}" if sighting.place_id else ""
    return redirect(reverse("counting:shelf", args=(school.slug, sighting.count_id)) + query)
