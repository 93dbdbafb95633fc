"""One difference or one find of a count, and what becomes of it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.counting.actions import differences
from fleet.counting.actions.finds import settle_find
from fleet.counting.forms import FindForm, ResolveForm
from fleet.counting.models import Find, Line
from fleet.counting.queries import shelves
from fleet.counting.queries.outcomes import resolutions_for
from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.queries import asked_for


def line(request: SeatedRequest, pk: int) -> HttpResponse:
    """One difference and what becomes of it."""
    school = request.seat.school
    shown = get_object_or_404(
        Line.objects.filter(count__school=school).select_related("count", "horn", "resolved_by"), pk=pk
    )
    [with_sightings] = shelves.with_sightings([shown])
    places = [one.place_id for one in with_sightings.sightings if one.place_id]
    form = ResolveForm(
        request.POST or None,
        open_to=resolutions_for(shown, shown.horn.where),
        school=school,
        seen_at=places[-1] if places else None,
    )
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            differences.resolve(line=shown, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"{shown} is resolved.")
            return redirect("counting:count", school.slug, shown.count_id)
    context = {"line": shown, "seen": with_sightings.sightings, "form": form, "refused": refused}
    return render(request, "counting/line.html", context, status=status_of(request, refused))


def find(request: SeatedRequest, pk: int) -> HttpResponse:
    """Something found that the register does not know, and what it turned out to be."""
    school = request.seat.school
    shown = get_object_or_404(
        Find.objects.filter(count__school=school).select_related("count", "by", "horn", "resolved_by", "place"), pk=pk
    )
    known = asked_for.horn_told(school, shown.words)
    start = {"resolution": Find.Resolution.HORN.value, "number": known.number} if known else {}
    form = FindForm(request.POST or None, school=school, initial=start)
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            done = settle_find(find=shown, by=request.user, at=request.now, **form.cleaned_data)
        except Refused as no:
            refused = no
        else:
            messages.success(request, f"“{shown}” is resolved.")
            also = Line.objects.filter(
                count=shown.count_id, horn=done.horn, outcome__in=Line.DIFFERENCES, resolution=""
            )
            line = also.first() if done.horn and not shown.count.is_open else None
            if line is not None:
                messages.info(request, f"{line} was missed in this count: resolve that too.")
                return redirect("counting:line", school.slug, line.pk)
            return redirect("counting:count", school.slug, shown.count_id)
    return render(
        request,
        "counting/find.html",
        {"find": shown, "known": known, "form": form, "refused": refused},
        status=status_of(request, refused),
    )
