"""The places of a school, and the page to change one."""

from __future__ import annotations

from django.db.models import Count, OuterRef, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.record.queries.pointing import on_record
from fleet.register.actions.horns import set_place
from fleet.register.actions.places import keep_place, merge_places
from fleet.register.forms.places import HornPlaceForm, PlaceForm, SamePlaceForm
from fleet.register.models import Horn, Place
from fleet.register.pages.table import PlaceTable


def places(request: SeatedRequest) -> HttpResponse:
    # Counted for the places of the page alone: joined to, the horns of all of them would be.
    kept = Horn.objects.filter(place=OuterRef("pk"), withdrawn_on=None).order_by().values("place")
    there = Coalesce(Subquery(kept.annotate(many=Count("pk")).values("many")), 0)
    found = Place.objects.filter(school=request.seat.school).annotate(there=there)
    table = PlaceTable(found.order_by("sorted_by", "pk"), seat=request.seat)
    RequestConfig(request).configure(table)
    return render(request, "register/places.html", {"table": table})


def place_new(request: SeatedRequest) -> HttpResponse:
    return _place(request, Place(school=request.seat.school))


def place_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    return _place(request, get_object_or_404(Place, school=request.seat.school, pk=pk))


def place_twice(request: SeatedRequest, pk: int) -> HttpResponse:
    """A place that was written down twice: what points to it goes to the other one."""
    place = get_object_or_404(Place, school=request.seat.school, pk=pk)
    form = SamePlaceForm(posted(request), place=place)
    return answer(
        request,
        form,
        lambda: merge_places(twice=place, by=request.user, at=request.now, **form.cleaned_data),
        page="register/place_twice.html",
        shown=lambda: _held(place),
        said=lambda into: _s("%(place)s and %(into)s are now one place: %(into)s.") % {"place": place, "into": into},
        then=lambda _: request.seat.here("register:places"),
        refused_on="into",
    )


def horn_place(request: SeatedRequest, pk: int) -> HttpResponse:
    """Where one horn belongs."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("place"), pk=pk)
    form = HornPlaceForm(posted(request), horn=horn)
    return answer(
        request,
        form,
        lambda: set_place(horn=horn, by=request.user, at=request.now, **form.said),
        page="register/horn_place.html",
        shown=lambda: {"horn": horn},
        said=lambda _: (
            (
                _s("%(horn)s belongs to %(place)s.")
                if form.cleaned_data["place"]
                else _s("%(horn)s belongs to no place.")
            )
            % {"horn": horn, "place": form.cleaned_data["place"]}
        ),
        then=lambda _: request.seat.here("desk:horn", horn.pk),
    )


def _held(place: Place) -> dict[str, object]:
    horns = place.horns.count()
    return {"place": place, "horns": horns, "noted": sum(on_record(place).values()) - horns}


def _place(request: SeatedRequest, place: Place) -> HttpResponse:
    form = PlaceForm(posted(request), instance=place)
    return answer(
        request,
        form,
        lambda: keep_place(place=place, by=request.user, at=request.now, **form.cleaned_data),
        page="register/place.html",
        shown=lambda: {"place": place},
        said=lambda kept: _s("%(kept)s is saved.") % {"kept": kept},
        then=lambda kept: request.seat.here("register:places"),
        refused_on="room",
    )
