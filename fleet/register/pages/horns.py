"""The list of horns, and the pages of a horn's particulars."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.addresses import whole
from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import horns as horns_actions
from fleet.register.forms.horns import HornForm
from fleet.register.models import Horn
from fleet.register.models.kinds import reversible
from fleet.register.pages.table import HornTable
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.listing import page_of, sort_of
from fleet.register.queries.numbers import next_free


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
            horn = horns_actions.register_horn(
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
            changed = horns_actions.amend_horn(horn=horn, changes=form.changes, by=request.user, at=request.now)
        except Refused as no:
            form.add_error(None, no.sentence)
        else:
            messages.success(request, f"{horn.number} is saved." if changed else "Nothing was changed.")
            return redirect("desk:horn", school.slug, horn.pk)
    shown = {"form": form, "horn": horn, "reversible": reversible(form.initial.get("build") or "")}
    return render(request, "register/horn_edit.html", shown, status=status_of(request))
