"""The stock of parts, and parts going into a job and back."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.parts import count_parts, order_parts, part_arrived, put_back, save_part, use_part
from fleet.workshop.forms.parts import ArrivedForm, OrderedForm, PartForm, PutBackForm, StockTakeForm, UseForm
from fleet.workshop.models import Part
from fleet.workshop.pages.jobs import job_asked
from fleet.workshop.pages.table import PartTable
from fleet.workshop.queries.parts import by_supplier


def parts(request: SeatedRequest) -> HttpResponse:
    there = list(Part.objects.at(request.seat.school))
    table = PartTable(there, seat=request.seat)
    RequestConfig(request).configure(table)
    context = {
        "table": table,
        "wanting": by_supplier(part for part in there if part.short and not part.is_coming),
        "coming": [part for part in there if part.is_coming],
    }
    return render(request, "workshop/parts.html", context)


def parts_ordered(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    form = OrderedForm(posted(request), parts=list(Part.objects.at(seat.school)))
    return answer_elsewhere(
        request,
        form,
        lambda: order_parts(**form.cleaned_data, school=seat.school, by=request.user, at=request.now),
        to=seat.here("workshop:parts"),
        said=lambda many: _s("%(many)s ordered.") % {"many": many},
    )


def part_came(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    part = get_object_or_404(Part.objects.at(seat.school), pk=pk)
    form = ArrivedForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: part_arrived(part=part, **form.cleaned_data, by=request.user, at=request.now),
        to=seat.here("workshop:parts"),
        said=lambda arrived: _s("%(arrived)s: %(on_hand)s there.") % {"arrived": arrived, "on_hand": arrived.on_hand},
    )


def stock_take(request: SeatedRequest) -> HttpResponse:
    """What lies there, typed part by part; what differs from the record is named."""
    seat = request.seat
    form = StockTakeForm(posted(request), parts=list(Part.objects.at(seat.school)))

    def said(differ: list[tuple[Part, int]]) -> str:
        told = ", ".join(f"{part} {part.on_hand} (on record {was})" for part, was in differ)
        return (
            _s("Counted. Other than on record: %(told)s.") % {"told": told}
            if told
            else _s("Counted. All is as on record.")
        )

    return answer(
        request,
        form,
        lambda: count_parts(school=seat.school, counted=form.counted(), by=request.user, at=request.now),
        page="workshop/stock_take.html",
        said=said,
        then=lambda differ: seat.here("workshop:parts"),
        when_refused=form.go_on_from_what_is_there,
    )


def part_edit(request: SeatedRequest, pk: int | None = None) -> HttpResponse:
    seat = request.seat
    part = Part(school=seat.school) if pk is None else get_object_or_404(Part.objects.at(seat.school), pk=pk)
    part.school = seat.school
    form = PartForm(posted(request), instance=part)
    return answer(
        request,
        form,
        lambda: save_part(part=form.instance, was=form.cleaned_data["was"], by=request.user, at=request.now),
        page="workshop/part.html",
        shown=lambda: {"new": pk is None, "faults": form.faults},
        said=lambda saved: _s("%(saved)s: %(on_hand)s there.") % {"saved": saved, "on_hand": saved.on_hand},
        then=lambda saved: (
            seat.here("workshop:part-edit", saved.pk) if form.cleaned_data["another"] else seat.here("workshop:parts")
        ),
        when_refused=form.go_on_from_what_is_there,
    )


def job_part(request: SeatedRequest, pk: int) -> HttpResponse:
    """Takes a part into the job, or puts one back; what cannot be is said on the job's page."""
    seat = request.seat
    job = job_asked(request, pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    to = seat.here("workshop:job", job.pk)
    back = PutBackForm(posted(request))
    if "back" in back.data:
        return answer_elsewhere(request, back, lambda: put_back(used=back.cleaned_data["back"], **who), to=to)
    use = UseForm(posted(request), parts=list(Part.objects.at(seat.school)))
    return answer_elsewhere(request, use, lambda: use_part(**use.cleaned_data, **who), to=to)
