"""The page that puts a finished walk on record: on a horn the register has, or on a new one.

The walk's answers come in the address, as everywhere; what they amount to is computed here again.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.ground.wording import in_a_row
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import identifying
from fleet.register.forms.identifying import AS_NEW, IdentifiedForm
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of, kind_and_stand
from fleet.register.pages.horns import taken_meanwhile
from fleet.register.pages.listening import in_hand
from fleet.register.pages.one_by_one import AT_IT
from fleet.register.queries.identifying import as_identified, confirmed_mix
from fleet.register.queries.numbers import next_free
from identify import pages as walk_pages
from identify.core.reasoning.evidence import Observations
from identify.core.reasoning.explain import wrong_with
from identify.core.reasoning.verdict import assess
from identify.walk import RESULT, OneBefore, Walk, read_walk

SHOWN_FIRST = 6
BEFORE = "identified"  # what the session keeps of the horn before


def walk(request: SeatedRequest) -> HttpResponse:
    """The walk of `identify`, which knows nothing of registers, with what this school has confirmed so far."""
    taken, school = read_walk(request.GET), request.seat.school
    asked = int(taken.horn or 0)
    horn = as_identified(school, asked) if asked else None
    mix = confirmed_mix(school, besides=asked)
    held = in_hand(horn) if horn else None
    return walk_pages.walk(request, taken, mix=mix, in_hand=held, before=_one_before(request), a4=school.tuned_to)


def next_alike(request: SeatedRequest, horn: Horn) -> str:
    """The address of a walk for the next horn like the one before, if this `horn` was put on record just now, or ""."""
    kept = _kept(request)
    before = _one_before(request) if kept.get("last") == horn.pk else None
    return request.seat.here("identify:walk") + Walk(Observations(like=before.build), {}).address() if before else ""


def _one_before(request: SeatedRequest) -> OneBefore | None:
    """The horn whose checks settled it in this session, as its row is now."""
    kept = _kept(request)
    horn = as_identified(request.seat.school, kept["horn"]) if kept else None
    return OneBefore(horn.build, horn.in_full) if horn and build_of(horn.build) else None


def _kept(request: SeatedRequest) -> dict[str, Any]:
    """What is kept of the horn before: its own key, and that of the last one put on record; nothing after a while."""
    kept = request.session.get(BEFORE) or {}
    fresh = kept and request.now.timestamp() - kept["at"] < AT_IT.total_seconds()
    return kept if fresh and kept["school"] == request.seat.school.pk else {}


def _keep_as_before(request: SeatedRequest, form: IdentifiedForm, walk: Walk, found: Horn) -> None:
    """A horn that was settled by checks of its own is the one before; one that is like it hands that on."""
    kept = {"school": request.seat.school.pk, "horn": found.pk}
    if walk.observations.like:
        kept = _kept(request)
    elif not form.settles:
        kept = {}
    request.session[BEFORE] = {**kept, "last": found.pk, "at": request.now.timestamp()} if kept else {}


def identified(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    walk = read_walk(request.GET)
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=int(walk.horn)) if walk.horn else None
    mix = confirmed_mix(seat.school, besides=horn.pk if horn else 0)
    suggested = next_free(seat.school)
    form = IdentifiedForm(
        posted(request),
        school=seat.school,
        verdict=assess(walk.observations, mix=mix),
        initial={"number": suggested, "suggested": suggested, "horn_number": horn.number if horn else ""},
    )
    return answer(
        request,
        form,
        lambda: _keep(request, form, walk),
        page="register/identified.html",
        shown=lambda: _shown(request, form, walk, horn),
        said=lambda found: _told(form, found),
        then=lambda found: _next(request, form, walk, found),
    )


def _keep(request: SeatedRequest, form: IdentifiedForm, walk: Walk) -> Horn:
    found: dict[str, Any] = {
        "observations": walk.observations,
        "by": request.user,
        "at": request.now,
        **form.found,
    }
    if form.horn is not None:
        identifying.put_on_horn(horn=form.horn, **found)
        return form.horn
    return identifying.register_as_found(school=request.seat.school, **form.particulars, **found)


def _next(request: SeatedRequest, form: IdentifiedForm, walk: Walk, found: Horn) -> str:
    _keep_as_before(request, form, walk, found)
    if form.fault:
        return request.seat.here("workshop:job-new", found.pk) + "?" + urlencode({"notes": form.fault})
    return request.seat.here("desk:horn", found.pk)


def _told(form: IdentifiedForm, found: Horn) -> str:
    words = kind_and_stand(*form.build_and_stand.values())
    if form.horn is not None:
        return _s("%(number)s is on record as a %(words)s.") % {"number": found.number, "words": words}
    return in_a_row(
        _s("Registered as %(number)s, a %(kind)s.") % {"number": found.number, "kind": words},
        taken_meanwhile(found, form.cleaned_data["number"]),
    )


def _shown(request: SeatedRequest, form: IdentifiedForm, walk: Walk, horn: Horn | None) -> dict[str, Any]:
    school = request.seat.school
    offered = form.offered
    first = 1 if form.verdict.settled else SHOWN_FIRST
    likely = [one for place, one in enumerate(offered) if place < first or one.checked]
    return {
        "walk": walk,
        "kept_as": walk.kept_as(horn.number if horn else ""),
        "verdict": form.verdict,
        "wrong": wrong_with(form.verdict.leading),
        "likely": likely,
        "unlikely": [one for one in offered if one not in likely],
        "observed": walk.observed(),
        "horn": horn,
        "now": horn.in_full if horn else "",
        "unknown": list(Horn.objects.at(school).unidentified().by_number()[:50]),
        "back": request.seat.here("identify:walk") + walk.address(RESULT),
        "as_new_first": form.data.get("act") == AS_NEW or horn is None,
    }
