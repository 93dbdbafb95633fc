"""Answering a family."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import posted
from fleet.lending.actions import asks
from fleet.lending.forms.asks import AskAnswerForm
from fleet.lending.models import FamilyAsk
from fleet.lending.pages.short_form import short_form
from fleet.people.queries.seats import SeatedRequest


def ask(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "by", "answered_by")
    asked = get_object_or_404(FamilyAsk.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = AskAnswerForm(posted(request))
    return short_form(
        request,
        asked.loan,
        form,
        lambda: asks.answer(ask=asked, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/ask.html",
        title=_s("A family asks: %(horn)s") % {"horn": asked.loan.horn},
        said=_s("The family reads it on their page."),
        asked=asked,
    )
