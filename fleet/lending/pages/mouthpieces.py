"""Recording after a return that the mouthpiece was cleaned."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.lending.actions.returning import record_mouthpiece_cleaned
from fleet.lending.forms.returning import MouthpieceForm
from fleet.lending.pages.loans import loan_of_school
from fleet.lending.queries.loans import last_ended
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn


def mouthpiece(request: SeatedRequest, pk: int) -> HttpResponse:
    ended = loan_of_school(request, pk)
    form = MouthpieceForm(posted(request), today=request.today)
    return answer(
        request,
        form,
        lambda: record_mouthpiece_cleaned(loan=ended, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/mouthpiece.html",
        shown=lambda: {"loan": ended, "title": _s("Mouthpiece of %(horn)s") % {"horn": ended.horn}},
        said=_s("The mouthpiece of %(horn)s is clean.") % {"horn": ended.horn},
        then=lambda _: request.seat.here("desk:horn", ended.horn_id),
    )


def mouthpiece_of(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to recording the cleaning after the horn's last loan, for those who know the horn only."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    last = last_ended(horn)
    if last is None:
        messages.info(
            request, _s("%(horn)s has not been lent yet, so there is no cleaning to record.") % {"horn": horn}
        )
        return redirect("desk:horn", request.seat.school.slug, pk)
    return redirect("loans:mouthpiece", request.seat.school.slug, last.pk)
