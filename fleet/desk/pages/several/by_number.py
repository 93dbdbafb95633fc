"""Horns put on a list by number or by scanning their labels; then something is done with all of them."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _s

from fleet.desk.pages.several.horns import OfHorns
from fleet.ground.answering import lead_on, one_of
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.pages.one_by_one import OneByOne


def _withdrawn(horn: Horn) -> str:
    return _s("%(horn)s is withdrawn.") % {"horn": horn} if horn.withdrawn_on else ""


ROW = OneByOne("by_number", no=_withdrawn, yes=lambda horn: f"{horn}.")


def by_number(request: SeatedRequest) -> HttpResponse:
    way = one_of(request, {"stop": _stop, "": _add_or_leave}) or _open
    return way(request)


def _open(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    ROW.begin(request, school)
    keys = ROW.listed(request, school)
    rows = sorted(OfHorns().rows(school, keys), key=lambda horn: keys.index(horn.pk))
    return render(request, "several/by_number.html", {"rows": rows})


def _add_or_leave(request: SeatedRequest) -> HttpResponse:
    ROW.add_or_leave(request, request.seat.school)
    return lead_on(request, request.seat.here("desk:several"))


def _stop(request: SeatedRequest) -> HttpResponse:
    ROW.stop(request)
    return redirect("register:horns", request.seat.school.slug)
