"""Charges: all that are due, a new one, one that is settled."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from fleet.lending.actions import charges as charges_actions
from fleet.lending.forms.charges import ChargeForm, SettleForm
from fleet.lending.models import Charge
from fleet.lending.pages.short_form import running_loan, short_form
from fleet.people.queries.seats import SeatedRequest


def charge_new(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    currency = request.seat.school.currency
    form = ChargeForm(request.POST or None, today=timezone.localdate(request.now), currency=currency)

    def act() -> str:
        made = charges_actions.charge(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{made} stands as due."

    return short_form(request, loan, form, act, "charge_new")


def charge(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "made_by", "settled_by")
    shown = get_object_or_404(Charge.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = SettleForm(request.POST or None)

    def act() -> str:
        settled = charges_actions.settle(
            charge=shown, state=form.cleaned_data["state"], by=request.user, at=request.now
        )
        return f"{settled} is {settled.get_state_display()}."

    return short_form(request, shown.loan, form, act, "charge", charge=shown)


def charges(request: SeatedRequest) -> HttpResponse:
    due = Charge.objects.at(request.seat.school).due().select_related("loan__horn", "loan__pupil")
    today = timezone.localdate(request.now)
    return render(request, "loans/charges.html", {"charges": due[:500], "today": today})
