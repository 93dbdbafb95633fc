"""The list of horns, a horn's particulars, its stand and standing; places. Pictures and findings have own files."""

from __future__ import annotations

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.access import SeatedRequest
from fleet.asked import whole
from fleet.refused import Refused, status_of
from fleet.register import actions
from fleet.register.filters import HornFilters
from fleet.register.forms import HornForm, PlaceForm, StandForm, StandingForm, day_as_time
from fleet.register.kinds import finding_in_words, reversible, stand_in_words
from fleet.register.listing import page_of, sort_of
from fleet.register.models import Horn, Place
from fleet.register.numbers import next_free
from fleet.register.photographs import picture_response
from fleet.register.tables import HornTable
from fleet.register.ways import sound_again, way_out

__all__ = ["picture_response"]


def horns(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    filters = HornFilters(request.GET, queryset=Horn.objects.at(school))
    sort = sort_of(request.GET.get("sort", ""))
    number = whole(request.GET.get("page"), most=999_999) or 1
    page = page_of(school, filters.qs, words=filters.words, sort=sort, number=number)
    table = HornTable(page.rows, school=school, sort=sort)
    shown = {"filters": filters, "page": page, "table": table, "sort": sort}
    return render(request, "register/horns.html", shown)


def horn_new(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    suggested = next_free(school)
    form = HornForm(
        request.POST or None,
        instance=Horn(school=school),
        initial={"number": suggested, "suggested": suggested, "place": request.GET.get("place")},
        seat=request.seat,
        now=request.now,
    )
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data["number"]
        try:
            horn = actions.register_horn(
                school=school,
                particulars=form.particulars,
                suggested=form.cleaned_data["suggested"],
                by=request.user,
                at=request.now,
            )
        except Refused as no:
            form.add_error("number", no.sentence)
        else:
            taken = f" Somebody took {asked} a moment ago." if horn.number != asked else ""
            messages.success(request, f"Registered as {horn.number}.{taken}")
            return redirect("desk:horn", school.slug, horn.pk)
    return render(request, "register/horn_new.html", {"form": form}, status=status_of(request))


def horn_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school).select_related("school"), pk=pk)
    form = HornForm(request.POST or None, instance=horn, seat=request.seat, now=request.now)
    if request.method == "POST" and form.is_valid():
        try:
            changed = actions.amend_horn(horn=horn, changes=form.changes, by=request.user, at=request.now)
        except Refused as no:
            form.add_error(None, no.sentence)
        else:
            messages.success(request, f"{horn.number} is saved." if changed else "Nothing was changed.")
            return redirect("desk:horn", school.slug, horn.pk)
    shown = {"form": form, "horn": horn, "reversible": reversible(form.initial.get("build") or "")}
    return render(request, "register/horn_edit.html", shown, status=status_of(request))


def stand(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = StandForm(request.POST or None, horn=horn, now=request.now)
    refused = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            actions.restring(
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
        "now": finding_in_words(horn.build, horn.stands_in),
        "refused": refused,
        "way_out": way_out(refused, horn, school),
    }
    return render(request, "register/stand.html", shown, status=status_of(request, refused))


def standing(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = StandingForm(request.POST or None, horn=horn, now=request.now)
    refused = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            done = actions.change_standing(
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
    shown = {"form": form, "horn": horn, "refused": refused, "way_out": way_out(refused, horn, school)}
    return render(request, "register/standing.html", shown, status=status_of(request, refused))


def places(request: SeatedRequest) -> HttpResponse:
    there = Count("horns", filter=Q(horns__withdrawn_on=None))
    found = Place.objects.filter(school=request.seat.school).annotate(there=there)
    return render(request, "register/places.html", {"places": found.order_by("room", "shelf", "pk")})


def place_new(request: SeatedRequest) -> HttpResponse:
    return _place(request, Place(school=request.seat.school))


def place_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    return _place(request, get_object_or_404(Place, school=request.seat.school, pk=pk))


def _place(request: SeatedRequest, place: Place) -> HttpResponse:
    form = PlaceForm(request.POST or None, instance=place)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                form.save()
        except IntegrityError:
            # Somebody else made the same place between the look and the writing.
            form.add_error("room", "There is already a place with this room and shelf.")
        else:
            messages.success(request, f"{place} is saved.")
            return redirect("register:places", request.seat.school.slug)
    return render(request, "register/place.html", {"form": form, "place": place}, status=status_of(request))
