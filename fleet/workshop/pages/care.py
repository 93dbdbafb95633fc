"""Care that is due, and noting it for one horn or many at once."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import capfirst
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.ground.paging import counted
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions.care import care_for, take_back_care
from fleet.workshop.forms.care import CareForm, DoneForm, TakeBackForm
from fleet.workshop.models.care import DO, MIND, Kind
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.bench_day import by_place
from fleet.workshop.queries.care import Due, care_due, care_of, days_between, months_between, noted_on, wanting

SHOWN = 50


def care(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    form = CareForm(posted(request), school=seat.school, today=request.today)
    return answer(
        request,
        form,
        lambda: care_for(school=seat.school, by=request.user, at=request.now, **form.said),
        page="workshop/care.html",
        shown=lambda: _due(request, form),
        said=lambda many: (
            _s_many("%(kind)s noted for %(many)s horn.", "%(kind)s noted for %(many)s horns.", many)
            % {"kind": capfirst(form.said["kind"].label), "many": many}
        ),
        then=lambda many: seat.here("workshop:care"),
    )


def _due(request: SeatedRequest, form: CareForm) -> dict[str, Any]:
    """What is due, by kind. Those that were ticked stay so when one of them was in the way; a link ticks all of a
    kind."""
    for sentence in form.sentences():
        messages.error(request, sentence)
    tick = request.GET.get("tick", "")
    school, today = request.seat.school, request.today

    def ticked(kind: Kind, one: Due) -> bool:
        return tick == kind or form.has_ticked(kind, one.horn.pk)

    return {
        "noted": noted_on(school, today, request.user),
        "kinds": [
            {
                "kind": kind,
                "all": tick == kind,
                "ticked": [one.horn.pk for one in some if ticked(kind, one)],
                "days": days_between(school, kind),
                "months": months_between(school, kind),
                "do": DO[kind],
                "cautions": [catalogue().cautions[code] for code in (*MIND[kind], "first")],
                "places": by_place(some),
                "more": counted(wanting(school, kind, today), beyond=SHOWN) if len(some) == SHOWN else "",
            }
            for kind, some in care_due(school, today, SHOWN).items()
        ],
    }


def care_back(request: SeatedRequest) -> HttpResponse:
    seat, form = request.seat, TakeBackForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: take_back_care(of=form.of, school=seat.school, by=request.user, at=request.now),
        to=way_back(request, seat.here("workshop:care")),
        said=lambda many: _s("Taken back: %(many)s.") % {"many": many},
    )


def horn_care(request: SeatedRequest, pk: int) -> HttpResponse:
    """How the care of one horn stands, and noting what was done to it, due or not."""
    seat, today = request.seat, request.today
    horn = get_object_or_404(Horn.objects.at(seat.school).select_related("school"), pk=pk)
    stands, had = care_of(horn, today)
    first = next((one.kind for one in stands if one.is_due), None)
    kinds = [one.kind for one in stands]
    form = DoneForm(posted(request), kinds=kinds, today=today, initial={"kind": first, "on": today})

    def note() -> Kind:
        kind = Kind(form.cleaned_data["kind"])
        on = form.cleaned_data["on"]
        if not care_for(horns=[horn.pk], kind=kind, school=seat.school, by=request.user, at=request.now, on=on):
            raise Refused(_s("%(horn)s is withdrawn.") % {"horn": horn}, way_out=horn.way_back)
        return kind

    codes = dict.fromkeys(code for kind in kinds for code in MIND[kind])
    return answer(
        request,
        form,
        note,
        page="workshop/horn_care.html",
        shown=lambda: {
            "horn": horn,
            "stands": [(one, DO[one.kind]) for one in stands],
            "had": had,
            "cautions": [catalogue().cautions[code] for code in (*codes, "first")],
        },
        said=lambda kind: _s("%(kind)s noted for %(horn)s.") % {"kind": capfirst(kind.label), "horn": horn},
        then=lambda kind: seat.here("workshop:horn-care", horn.pk),
    )
