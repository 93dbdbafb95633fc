"""The pages where giving a horn up is proposed and decided."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import Seat, SeatedRequest, others_who_may
from fleet.register.actions.disposing import decide, propose
from fleet.register.forms.disposing import DecideForm, DisposalForm
from fleet.register.models import Disposal, Horn

DECIDE = "register:disposal-decide"


def disposal(request: SeatedRequest, pk: int) -> HttpResponse:
    """The proposal for a horn: made here, or shown with how it stands."""
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    there = horn.disposals.exclude(approved=False).select_related("proposed_by", "decided_by").first()
    form = DisposalForm(
        posted(request),
        role=seat.role,
        currency=seat.school.currency,
        initial={"on": request.today},
    )
    return answer(
        request,
        form,
        lambda: propose(horn=horn, by=request.user, at=request.now, **form.cleaned_data),
        page="register/disposal.html",
        shown=lambda: _shown(
            seat,
            horn,
            there,
            DecideForm(currency=seat.school.currency, initial={"price": there.price if there else None}),
        ),
        said=_s("Giving %(horn)s up is proposed. A department head who is not you decides.") % {"horn": horn},
        then=lambda made: seat.here("desk:horn", horn.pk),
    )


def disposal_decide(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    proposed = Disposal.objects.at(seat.school).select_related("horn", "proposed_by", "decided_by")
    there = get_object_or_404(proposed, pk=pk)
    form = DecideForm(posted(request), currency=seat.school.currency)
    return answer(
        request,
        form,
        lambda: decide(disposal=there, by=request.user, at=request.now, **form.said),
        page="register/disposal.html",
        shown=lambda: _shown(seat, there.horn, there, form),
        said=lambda now: (
            (_s("%(horn)s: given up.") if now.approved else _s("%(horn)s: it stays.")) % {"horn": there.horn}
        ),
        then=lambda now: seat.here("register:disposal" if now.approved else "desk:horn", there.horn_id),
    )


def _shown(seat: Seat, horn: Horn, there: Disposal | None, form: DecideForm) -> dict[str, Any]:
    return {
        "horn": horn,
        "disposal": there,
        "decide": form,
        "others": others_who_may(seat, DECIDE),
        "money": seat.role in HEADS,
    }
