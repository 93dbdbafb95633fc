"""The counts: beginning one, how it stands, ending and signing it."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s

from fleet.counting.actions import counts as counts_actions
from fleet.counting.forms import BeginForm
from fleet.counting.models import Count, Line
from fleet.counting.queries import shelves
from fleet.counting.queries.facts import of_count
from fleet.ground.answering import answer, answer_elsewhere, one_of, posted, sure
from fleet.people.models import User
from fleet.people.queries.seats import SeatedRequest, others_who_may
from fleet.register.models import Horn

PER_PAGE = 25


def counts(request: SeatedRequest) -> HttpResponse:
    found = Count.objects.at(request.seat.school).select_related("started_by", "signed_by")
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    today = request.today
    rows = [(one, one.days_open(today) if one.is_open else None, one.has_grown_old(today)) for one in page]
    return render(request, "counting/counts.html", {"page": page, "rows": rows})


def count_new(request: SeatedRequest) -> HttpResponse:
    form = BeginForm(posted(request), school=request.seat.school)
    # What else is missing is said when the count is to begin.
    find = one_of(request, {"find": form.errors.clear})
    if find is not None:
        find()
        return render(request, "counting/count_new.html", {"form": form})
    return answer(
        request,
        form,
        lambda: _begin(request, form),
        page="counting/count_new.html",
        then=lambda begun: request.seat.here("counting:count", begun.pk),
    )


def _begin(request: SeatedRequest, form: BeginForm) -> Count:
    given = form.cleaned_data
    who: dict[str, Any] = {"school": request.seat.school, "by": request.user, "at": request.now}
    if given["kind"] == Count.Kind.SAMPLE:
        return counts_actions.begin_sample(confidence=given["confidence"], margin=given["margin"], **who)
    places = list(given["places"]) if given["kind"] == Count.Kind.PLACES else []
    return counts_actions.begin(places=places, **who)


def count(request: SeatedRequest, pk: int) -> HttpResponse:
    """A count as it stands: its places while it is open, its differences once it is ended."""
    shown = get_object_or_404(
        Count.objects.at(request.seat.school).select_related("started_by", "ended_by", "signed_by"), pk=pk
    )
    if shown.is_open:
        return render(request, "counting/open.html", _open(request, shown))
    facts = of_count(shown)
    to_resolve = [*(one.line.resolution for one in facts.differences), *(one.resolution for one in facts.finds)]
    context = {
        "count": shown,
        "facts": facts,
        "numbers": [(outcome.label, n) for outcome, n in shelves.in_order(facts.numbers)],
        "left": to_resolve.count(""),
        "i_counted": request.user in facts.counted_by,
        "others": _who_signs(request, facts.counted_by),
    }
    return render(request, "counting/ended.html", context)


def _who_signs(request: SeatedRequest, counters: Collection[User]) -> list[User]:
    """For somebody who counted: who else may sign, and did not count."""
    others = others_who_may(request.seat, "counting:sign") if request.user in counters else []
    return [one for one in others if one not in counters]


def _open(request: SeatedRequest, count: Count) -> dict[str, Any]:
    """The places to count at; a label that was scanned before its reader said where they stand goes with each."""
    code = request.GET.get("label", "")
    scanned = Horn.objects.at(request.seat.school).filter(label_code=code.upper()).first() if code else None
    return {
        "count": count,
        "shelves": shelves.shelves(count),
        "scanned": scanned,
        "days": count.days_open(request.today) if count.has_grown_old(request.today) else None,
    }


def end(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    shown = get_object_or_404(Count.objects.at(seat.school), pk=pk)
    return answer(
        request,
        sure(request),
        lambda: counts_actions.end(count=shown, by=request.user, at=request.now),
        page="counting/end.html",
        shown=lambda: {"count": shown, **_unseen(shown)},
        then=lambda ended: seat.here("counting:count", pk),
    )


def _unseen(count: Count) -> dict[str, Any]:
    """`missed` are the lines that would end as not found; `away` says how many others nobody has seen."""
    ended = shelves.endings(count)
    return {
        "missed": [line for line, outcome in ended if outcome == Line.Outcome.NOT_FOUND],
        "away": sum(line.expected and outcome in Line.GONE for line, outcome in ended),
    }


def sign(request: SeatedRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Count.objects.at(request.seat.school), pk=pk)
    return answer_elsewhere(
        request,
        sure(request),
        lambda: counts_actions.sign(count=shown, by=request.user, at=request.now),
        to=request.seat.here("counting:count", pk),
        said=_s("The count is signed, and kept as it is."),
    )
