"""The counts, beginning one, counting, what differs and why, and the signature."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.counting import actions, standing
from fleet.counting.finding import settle_find
from fleet.counting.forms import BeginForm, FindForm, ResolveForm
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.outcomes import resolutions_for
from fleet.refused import Refused, status_of
from fleet.register.models import Horn

PER_PAGE = 25


def counts(request: SeatedRequest) -> HttpResponse:
    found = Count.objects.at(request.seat.school).select_related("started_by", "signed_by")
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    rows = [(count, count.days_open(timezone.localdate(request.now)) if count.is_open else None) for count in page]
    return render(request, "counting/counts.html", {"page": page, "rows": rows})


def count_new(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = BeginForm(request.POST or None, school=school)
    refused = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            if given["kind"] == Count.Kind.SAMPLE:
                begun = actions.begin_sample(
                    school=school,
                    confidence=given["confidence"],
                    margin=given["margin"],
                    by=request.user,
                    at=request.now,
                )
            else:
                places = list(given["places"]) if given["kind"] == Count.Kind.PLACES else []
                begun = actions.begin(school=school, places=places, by=request.user, at=request.now)
        except Refused as no:
            refused = no
        else:
            return redirect("counting:count", school.slug, begun.pk)
    context = {"form": form, "refused": refused, "way_out": reverse("counting:counts", args=(school.slug,))}
    return render(request, "counting/count_new.html", context, status=status_of(request, refused))


def count(request: SeatedRequest, pk: int) -> HttpResponse:
    """A count as it stands: its places while it is open, its differences once it is ended."""
    shown = get_object_or_404(
        Count.objects.at(request.seat.school).select_related("started_by", "ended_by", "signed_by"), pk=pk
    )
    if shown.is_open:
        return render(request, "counting/open.html", _open(request, shown))
    numbers = standing.numbers(shown)
    differing = Line.objects.filter(count=shown, outcome__in=Line.DIFFERENCES).select_related("resolved_by")
    noted = Sighting.objects.filter(count=shown).standing().exclude(note="").select_related("line", "by")
    finds = list(Find.objects.filter(count=shown).standing().select_related("by", "horn", "resolved_by"))
    counters = standing.counters(shown)
    context = {
        "count": shown,
        "numbers": [(Line.Outcome(outcome).label, n) for outcome, n in standing.in_order(numbers)],
        "differences": standing.with_sightings(list(differing)),
        "finds": finds,
        "left": sum(1 for one in (*differing, *finds) if not one.resolution),
        "noted": noted,
        "counters": sorted(str(one) for one in counters),
        "i_counted": request.user in counters,
        "estimate": standing.estimate(shown, numbers),
    }
    return render(request, "counting/ended.html", context)


def _open(request: SeatedRequest, count: Count) -> dict[str, Any]:
    """The places to count at; a label that was scanned before its reader said where they stand goes with each."""
    code = request.GET.get("label", "")
    scanned = Horn.objects.at(request.seat.school).filter(label_code=code.upper()).first() if code else None
    today = timezone.localdate(request.now)
    return {
        "count": count,
        "shelves": standing.shelves(count),
        "scanned": scanned,
        "days": count.days_open(today) if count.has_grown_old(today) else None,
    }


def end(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.at(request.seat.school), pk=pk)
    if request.method == "POST":
        actions.end(count=shown, by=request.user, at=request.now)
        return redirect("counting:count", request.seat.school.slug, pk)
    unseen = sum(shelf.expected - shelf.seen for shelf in standing.shelves(shown))
    return render(request, "counting/end.html", {"count": shown, "unseen": unseen})


def line(request: SeatedRequest, pk: int) -> HttpResponse:
    """One difference and what becomes of it."""
    school = request.seat.school
    shown = get_object_or_404(
        Line.objects.filter(count__school=school).select_related("count", "horn", "resolved_by"), pk=pk
    )
    [with_sightings] = standing.with_sightings([shown])
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
            actions.resolve(line=shown, by=request.user, at=request.now, **form.cleaned_data)
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
    known = standing.horn_told(school, shown.words)
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


def sign(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.at(request.seat.school), pk=pk)
    if request.method == "POST":
        try:
            actions.sign(count=shown, by=request.user, at=request.now)
        except Refused as no:
            messages.error(request, no.sentence)
        else:
            messages.success(request, "The count is signed, and kept as it is.")
    return redirect("counting:count", request.seat.school.slug, pk)
