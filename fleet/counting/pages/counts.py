"""The counts: beginning one, how it stands, ending and signing it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.counting.actions import counts as counts_actions
from fleet.counting.forms import BeginForm
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.counting.queries import shelves
from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
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
                begun = counts_actions.begin_sample(
                    school=school,
                    confidence=given["confidence"],
                    margin=given["margin"],
                    by=request.user,
                    at=request.now,
                )
            else:
                places = list(given["places"]) if given["kind"] == Count.Kind.PLACES else []
                begun = counts_actions.begin(school=school, places=places, by=request.user, at=request.now)
        except Refused as no:
            refused = no
        else:
            return redirect("counting:count", school.slug, begun.pk)
    context = {"form": form, "refused": refused}
    return render(request, "counting/count_new.html", context, status=status_of(request, refused))


def count(request: SeatedRequest, pk: int) -> HttpResponse:
    """A count as it stands: its places while it is open, its differences once it is ended."""
    shown = get_object_or_404(
        Count.objects.at(request.seat.school).select_related("started_by", "ended_by", "signed_by"), pk=pk
    )
    if shown.is_open:
        return render(request, "counting/open.html", _open(request, shown))
    numbers = shelves.numbers(shown)
    differing = Line.objects.filter(count=shown, outcome__in=Line.DIFFERENCES).select_related("resolved_by")
    noted = Sighting.objects.filter(count=shown).standing().exclude(note="").select_related("line", "by")
    finds = list(Find.objects.filter(count=shown).standing().select_related("by", "horn", "resolved_by"))
    counters = shelves.counters(shown)
    context = {
        "count": shown,
        "numbers": [(Line.Outcome(outcome).label, n) for outcome, n in shelves.in_order(numbers)],
        "differences": shelves.with_sightings(list(differing)),
        "finds": finds,
        "left": sum(1 for one in (*differing, *finds) if not one.resolution),
        "noted": noted,
        "counters": sorted(str(one) for one in counters),
        "i_counted": request.user in counters,
        "estimate": shelves.estimate(shown, numbers),
    }
    return render(request, "counting/ended.html", context)


def _open(request: SeatedRequest, count: Count) -> dict[str, Any]:
    """The places to count at; a label that was scanned before its reader said where they stand goes with each."""
    code = request.GET.get("label", "")
    scanned = Horn.objects.at(request.seat.school).filter(label_code=code.upper()).first() if code else None
    today = timezone.localdate(request.now)
    return {
        "count": count,
        "shelves": shelves.shelves(count),
        "scanned": scanned,
        "days": count.days_open(today) if count.has_grown_old(today) else None,
    }


def end(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.at(request.seat.school), pk=pk)
    if request.method == "POST":
        counts_actions.end(count=shown, by=request.user, at=request.now)
        return redirect("counting:count", request.seat.school.slug, pk)
    unseen = sum(shelf.expected - shelf.seen for shelf in shelves.shelves(shown))
    return render(request, "counting/end.html", {"count": shown, "unseen": unseen})


def sign(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.at(request.seat.school), pk=pk)
    if request.method == "POST":
        try:
            counts_actions.sign(count=shown, by=request.user, at=request.now)
        except Refused as no:
            messages.error(request, no.sentence)
        else:
            messages.success(request, "The count is signed, and kept as it is.")
    return redirect("counting:count", request.seat.school.slug, pk)
