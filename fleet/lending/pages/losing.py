"""Recording that a horn was lost."""

from __future__ import annotations

from django.http import HttpResponse

from fleet.lending.actions import losing
from fleet.lending.forms.losing import LostForm
from fleet.lending.pages.short_form import running_loan, short_form
from fleet.people.queries.seats import SeatedRequest


def lost(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    form = LostForm(request.POST or None)

    def act() -> str:
        losing.lose(loan=loan, words=form.cleaned_data["words"], by=request.user, at=request.now)
        return f"{loan.horn} stands in the register as not found. Found again, it is recorded on its page."

    return short_form(request, loan, form, act, "lost", asks=loan.asks.unanswered())
