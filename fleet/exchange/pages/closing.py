"""The pages where closing a school is proposed, agreed to and taken back."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.exchange.actions.closing import agree_to_closing, propose_closing, take_closing_back
from fleet.exchange.forms import ClosingForm
from fleet.exchange.models import Closing
from fleet.ground.answering import answer, answer_elsewhere, one_of, posted, sure
from fleet.lending.models import Charge, Loan
from fleet.people.queries.seats import SeatedRequest, others_who_may
from fleet.register.models import Horn


def closing(request: SeatedRequest) -> HttpResponse:
    """The proposal with what it would mean: made here, or shown with how it stands."""
    seat = request.seat
    there = Closing.objects.filter(school=seat.school).select_related("proposed_by", "agreed_by").first()
    return answer(
        request,
        form := ClosingForm(posted(request)),
        lambda: propose_closing(school=seat.school, by=request.user, at=request.now, **form.cleaned_data),
        page="exchange/closing.html",
        shown=lambda: {
            "closing": there,
            "others": others_who_may(seat, "exchange:closing-agree"),
            "horns": Horn.objects.at(seat.school).count(),
            "loans": Loan.objects.at(seat.school).open().count(),
            "charges": Charge.objects.due().filter(loan__horn__school=seat.school).count(),
        },
        said=_s("Closing %(school)s is proposed. Another head has to agree.") % {"school": seat.school},
        then=lambda made: seat.here("exchange:closing"),
    )


def closing_agree(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    school, by, at = seat.school, request.user, request.now
    acts: dict[str, tuple[Callable[[], object], str]] = {
        "agree": (
            lambda: agree_to_closing(school=school, by=by, at=at),
            _s("%(school)s is closed the first night a day from now.") % {"school": school},
        ),
        "": (lambda: take_closing_back(school=school, by=by, at=at), _s("%(school)s stays.") % {"school": school}),
    }
    act, said = one_of(request, acts) or acts[""]
    return answer_elsewhere(request, sure(request), act, to=seat.here("exchange:closing"), said=said)
