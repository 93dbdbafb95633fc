"""A loan while it runs: a later due date, an earlier one, lost, charged for, asked about. One short form each."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans import moving
from fleet.loans.lending import day, way_out_of
from fleet.loans.models import Charge, FamilyAsk, Loan, LoanQuerySet
from fleet.loans.running_forms import AnswerForm, ChargeForm, LostForm, RecallForm, RenewForm, SettleForm
from fleet.people.models import Pupil
from fleet.people.openings import note
from fleet.refused import Refused
from fleet.register.models import Horn


def renew(request: SeatedRequest, pk: int) -> HttpResponse:
    loan, today = running_loan(request, pk), timezone.localdate(request.now)
    form = RenewForm(request.POST or None, loan=loan, today=today, loan_days=request.seat.school.loan_days)

    def act() -> str:
        moving.renew(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{loan.horn} is due back on {day(form.cleaned_data['due_on'])} now."

    checked = loan.horn.checked_on
    old = checked is None or (today - checked).days > request.seat.school.check_days
    return _short_form(request, loan, form, act, "renew", wants_look=old, asks=loan.asks.unanswered())


def recall(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    form = RecallForm(request.POST or None, loan=loan, today=timezone.localdate(request.now))

    def act() -> str:
        moving.recall(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{loan.horn} is wanted back on {day(form.cleaned_data['due_on'])}. The next letters say so."

    return _short_form(request, loan, form, act, "recall")


def lost(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    form = LostForm(request.POST or None)

    def act() -> str:
        moving.lose(loan=loan, words=form.cleaned_data["words"], by=request.user, at=request.now)
        return f"{loan.horn} stands in the register as not found. Found again, it is recorded on its page."

    return _short_form(request, loan, form, act, "lost", asks=loan.asks.unanswered())


def charge_new(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = running_loan(request, pk)
    currency = request.seat.school.currency
    form = ChargeForm(request.POST or None, today=timezone.localdate(request.now), currency=currency)

    def act() -> str:
        made = moving.charge(loan=loan, **form.cleaned_data, by=request.user, at=request.now)
        return f"{made} stands as due."

    return _short_form(request, loan, form, act, "charge_new")


def charge(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "made_by", "settled_by")
    shown = get_object_or_404(Charge.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = SettleForm(request.POST or None)

    def act() -> str:
        settled = moving.settle(charge=shown, state=form.cleaned_data["state"], by=request.user, at=request.now)
        return f"{settled} is {settled.get_state_display()}."

    return _short_form(request, shown.loan, form, act, "charge", charge=shown)


def charges(request: SeatedRequest) -> HttpResponse:
    due = Charge.objects.at(request.seat.school).due().select_related("loan__horn", "loan__pupil")
    today = timezone.localdate(request.now)
    return render(request, "loans/charges.html", {"charges": due[:500], "today": today})


def ask(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "by", "answered_by")
    asked = get_object_or_404(FamilyAsk.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = AnswerForm(request.POST or None)

    def act() -> str:
        moving.answer(ask=asked, words=form.cleaned_data["words"], by=request.user, at=request.now)
        return "The family reads it on their page."

    return _short_form(request, asked.loan, form, act, "ask", asked=asked)


def of_horn(request: SeatedRequest, pk: int) -> HttpResponse:
    """Every loan of a horn, the newest first."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    return _history(request, horn.loans.all(), horn=horn)


def of_pupil(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    note(request, pupil=pupil)
    return _history(request, pupil.loans.all(), pupil=pupil)


def _history(request: SeatedRequest, loans: LoanQuerySet, **of: Any) -> HttpResponse:
    loans = loans.select_related("horn", "pupil", "guardian").prefetch_related("periods", "charges", "accessories")
    page = Paginator(loans, 50).get_page(request.GET.get("page"))
    return render(request, "loans/history.html", {"page": page, "today": timezone.localdate(request.now), **of})


def running_loan(request: SeatedRequest, pk: int) -> Loan:
    related = ("horn__school", "pupil", "guardian", "returned_to")
    return get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)


def _short_form(
    request: SeatedRequest, loan: Loan, form: forms.Form, act: Callable[[], str], name: str, **more: Any
) -> HttpResponse:
    """Show the form or act on it; what was done is told on the loan's page, a refusal above the form."""
    refused = None
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, act())
        except Refused as no:
            refused = no
        else:
            return redirect("loans:loan", request.seat.school.slug, loan.pk)
    way_out = way_out_of(refused, loan.horn, request.seat)
    status = 200 if request.method != "POST" else 409 if refused else 422
    context = {"loan": loan, "form": form, "refused": refused, "way_out": way_out, **more}
    return render(request, f"loans/{name}.html", context, status=status)
