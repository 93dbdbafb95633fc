"""Charges: all that are due, a new one, one that is settled."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.answering import posted
from fleet.lending.actions.charges import charge, settle
from fleet.lending.forms.charges import ChargeForm, SettleForm
from fleet.lending.models import Charge
from fleet.lending.pages.short_form import loan_asked, short_form
from fleet.lending.pages.table import ChargeTable
from fleet.people.queries.school_days import school_days
from fleet.people.queries.seats import SeatedRequest


def charge_new(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = loan_asked(request, pk)
    today, currency = request.today, request.seat.school.currency
    days = school_days(request.seat.school)
    form = ChargeForm(posted(request), today=today, days=days, currency=currency)
    return short_form(
        request,
        loan,
        form,
        lambda: charge(loan=loan, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/charge_new.html",
        title=_s("Charge for %(horn)s") % {"horn": loan.horn},
        said=lambda made: _s("%(made)s stands as due.") % {"made": made},
    )


def one_charge(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "made_by", "settled_by")
    shown = get_object_or_404(Charge.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = SettleForm(posted(request))
    return short_form(
        request,
        shown.loan,
        form,
        lambda: settle(charge=shown, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/charge.html",
        title=_s("Charge for %(horn)s") % {"horn": shown.loan.horn},
        said=lambda settled: (
            _s("%(settled)s is %(state)s.") % {"settled": settled, "state": settled.get_state_display()}
        ),
        charge=shown,
    )


def charges(request: SeatedRequest) -> HttpResponse:
    due = Charge.objects.at(request.seat.school).due().select_related("loan__horn", "loan__pupil")
    table = ChargeTable(due, school=request.seat.school, today=request.today)
    RequestConfig(request).configure(table)
    return render(request, "loans/charges.html", {"table": table})
