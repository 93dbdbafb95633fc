"""The places of a school, and the page to change one."""

from __future__ import annotations

from django.contrib import messages
from django.db import IntegrityError, transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.people.queries.seats import SeatedRequest
from fleet.register.forms.places import PlaceForm
from fleet.register.models import Place


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
