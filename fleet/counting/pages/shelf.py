"""Counting at one place, on a phone: taps sent as forms, or by script that keeps them until they arrive."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any, TypedDict, cast
from zlib import crc32

from django.contrib import messages
from django.http import HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.counting.actions import sightings
from fleet.counting.actions.finds import keep_find
from fleet.counting.forms import SawForm, Tap, taps
from fleet.counting.models import Count, Find, Sighting
from fleet.counting.pages.at_shelf import stand_at
from fleet.counting.queries import shelves
from fleet.ground.addresses import whole
from fleet.ground.answering import answer, answer_elsewhere, posted, sure
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.people.forms.one_of_many import RowField
from fleet.people.models import School, User
from fleet.people.queries.seats import SeatedRequest
from fleet.register.forms.places import OnePlaceForm
from fleet.register.models import Horn, Place
from fleet.register.queries import asked_for

NOTHING_SAID = _s_lazy("Type the register number, or tap a horn.")
NO_SUCH_HORN = _s_lazy("This horn is not in this school’s register. Type its number.")
UNREADABLE = Refused(_s_lazy("What was sent cannot be read. Type the register number as it stands on the horn."))
KEPT_AS_FOUND = _s_lazy("“{}” is not in the register. It is kept as found here: read it again, and go on counting.")


class _How(TypedDict):
    count: Count
    place: Place | None
    key: str
    waited: timedelta
    by: User
    at: datetime


def place_asked(school: School, asked: str | None) -> Place | None:
    """The place of that key; None for a key of no place of this school, as for none."""
    key = whole(asked)
    return None if key is None else Place.objects.filter(school=school, pk=key).first()


def _elsewhere(school: School, said: QueryDict) -> OnePlaceForm:
    return OnePlaceForm(said, school=school, label=_s("I stand somewhere else"), empty=None)


def shelf(request: SeatedRequest, pk: int) -> HttpResponse:
    """The horns that belong at a place, and the way to say which are there."""
    seat = request.seat
    count = get_object_or_404(Count.objects.at(seat.school), pk=pk)
    elsewhere = _elsewhere(seat.school, request.GET)
    asked = elsewhere.is_valid()
    place = elsewhere.cleaned_data["place"] if asked else place_asked(seat.school, request.GET.get("place"))
    if asked and cast("RowField", elsewhere.fields["place"]).many:
        # Words of another place are written into an empty field.
        elsewhere = _elsewhere(seat.school, QueryDict())
    if not count.is_open and request.method != "POST":
        return redirect("counting:count", seat.school.slug, pk)
    form = SawForm(posted(request))
    return answer(
        request,
        form,
        lambda: _take(count, place, form.tap, request, same_page=True),
        page="counting/shelf.html",
        shown=lambda: {**_shown(request, count, place, form), "elsewhere": elsewhere},
        said=lambda seen: (
            ""
            if isinstance(seen, Find)
            else (_s("%(seen)s: seen at %(place)s.") if place else _s("%(seen)s: seen."))
            % {"seen": seen, "place": place}
        ),
        then=lambda seen: _go_on(request, seen, place),
    )


def _shown(request: SeatedRequest, count: Count, place: Place | None, form: SawForm) -> dict[str, Any]:
    school = request.seat.school
    stand_at(request, count, place)
    label = request.GET.get("label", "")
    return {
        "count": count,
        "place": place,
        "lines": shelves.lines_at(count, place.pk if place else None),
        "finds": shelves.finds_at(count, place.pk if place else None),
        "scanned": asked_for.horn_told(school, label) if label else None,
        "key": uuid.uuid4(),
        **({"refused": UNREADABLE} if form.errors else {}),
    }


def _go_on(request: SeatedRequest, seen: Sighting | Find, place: Place | None) -> str:
    if isinstance(seen, Find):
        messages.warning(request, KEPT_AS_FOUND.format(seen))
    return _shelf_of(request, seen.count_id, place.pk if place else None)


def _shelf_of(request: SeatedRequest, count: int, place: int | None) -> str:
    return request.seat.here("counting:shelf", count) + (f"?place={place}" if place else "")


def _take(
    count: Count, place: Place | None, tap: Tap, request: SeatedRequest, *, same_page: bool = False
) -> Sighting | Find:
    """A tap written down: a horn of the register as seen, anything else under the words that were typed."""
    school = request.seat.school
    words = tap.number.strip()
    if tap.horn is not None:
        horn = Horn.objects.at(school).select_related("place").filter(pk=tap.horn).first()
        if horn is None:
            raise Refused(NO_SUCH_HORN)
    elif words:
        horn = asked_for.horn_told(school, words)
    else:
        raise Refused(NOTHING_SAID)
    # One page has one key: a button tapped twice is one sighting, and two numbers typed after each other are two.
    told = horn.pk if horn else f"w{crc32(words.encode())}"
    key = f"{tap.key}-{told}"[:64] if same_page else tap.key
    how = _How(count=count, place=place, key=key, waited=tap.waited, by=request.user, at=request.now)
    if horn is None:
        return keep_find(words=words, **how)
    return sightings.see(horn=horn, note=tap.note, **how)


def sent(request: SeatedRequest, pk: int) -> HttpResponse:
    """What a phone kept and sends now, and how the place stands: 201 and `{"taken": {key: number}, "unknown": [key],
    "refused": {key: sentence}, "seen": [horn], "finds": [{"words", "by", "undo"}], "open": bool}`; `unknown` are those
    taken that are no horn of the register. Each tap is written by itself: one that is refused holds up no other."""
    school = request.seat.school
    count = get_object_or_404(Count.objects.at(school), pk=pk)
    if request.method != "POST":
        return redirect("counting:count", school.slug, pk)
    told = taps(request.body)
    if told is None:
        return JsonResponse({"sentence": _s("What was sent cannot be read.")}, status=422)
    taken: dict[str, str] = {}
    refused: dict[str, str] = {}
    unknown = []
    places = {
        one.pk: one for one in Place.objects.filter(school=school, pk__in={tap.place for tap in told if tap.place})
    }
    for tap in told:
        try:
            if tap.place and tap.place not in places:
                raise Refused(_s("There is no such place at this school."))
            seen = _take(count, places.get(tap.place or 0), tap, request)
        except Refused as no:
            refused[tap.key] = no.sentence
        else:
            taken[tap.key] = str(seen)
            unknown += [tap.key] if isinstance(seen, Find) else []
    place = place_asked(school, request.GET.get("place"))
    here = Sighting.objects.filter(count=count, place=place).standing().values_list("line__horn", flat=True)
    finds = shelves.finds_at(count, place.pk if place else None)
    answer = {
        "taken": taken,
        "unknown": unknown,
        "refused": refused,
        "seen": sorted(set(here)),
        "finds": [
            {
                "words": one.words,
                "by": str(one.by),
                "undo": reverse("counting:find-undo", args=(school.slug, one.pk)),
            }
            for one in finds
        ],
        "open": count.is_open,
    }
    return JsonResponse(answer, status=201)


def find_undo(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    found = get_object_or_404(Find.objects.filter(count__school=school).select_related("count"), pk=pk)
    return _undo(request, found)


def undo(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    sighting = get_object_or_404(Sighting.objects.filter(count__school=school).select_related("count", "line"), pk=pk)
    return _undo(request, sighting)


def _undo(request: SeatedRequest, seen: Sighting | Find) -> HttpResponse:
    return answer_elsewhere(
        request,
        sure(request),
        lambda: sightings.undo(sighting=seen, by=request.user, at=request.now),
        to=_shelf_of(request, seen.count_id, seen.place_id),
        said=_s("%(seen)s: taken back.") % {"seen": seen},
    )
