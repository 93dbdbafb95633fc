"""A later due date, and an earlier one."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone

from fleet.ground.wording import day
from fleet.lending.actions import dates
from fleet.lending.forms.dates import RecallForm, RenewForm
from fleet.lending.pages.short_form import running_loan, short_form
from fleet.people.queries.seats import SeatedRequest


def renew(request: SeatedRequest, pk: int) -> HttpResponse:
    loan, today = running_loan(request, pk), timezone.localdate(request.now)
    form = RenewForm(request.POST or None, loan=loan, today=today, loan_days=request.seat.school.loan_days)

    def act() -> str:
        dates.renew(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{loan.horn} is due back on {day(form.cleaned_data['due_on'])} now."

    checked = loan.horn.checked_on
    old = checked is None or (today - checked).days > request.seat.school.check_days
    return short_form(request, loan, form, act, "renew", wants_look=old, asks=loan.asks.unanswered())


def recall(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    form = RecallForm(request.POST or None, loan=loan, today=timezone.localdate(request.now))

    def act() -> str:
        dates.recall(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{loan.horn} is wanted back on {day(form.cleaned_data['due_on'])}. The next letters say so."

    return short_form(request, loan, form, act, "recall")
