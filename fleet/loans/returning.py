"""Taking a horn back: what it was at issue beside what it is now, and the check that belongs to the return."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans import actions
from fleet.loans.forms import ReturnForm
from fleet.loans.lending import way_out_of
from fleet.loans.models import Loan
from fleet.refused import Refused
from fleet.register.models import Horn
from fleet.workshop.actions import log_check
from fleet.workshop.condition import open_findings
from fleet.workshop.faults import catalogue
from fleet.workshop.forms import CheckForm
from fleet.workshop.models import ConditionCheck

CAUTIONS = ("hygiene", "oil", "first")


def give_back(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(
        Loan.objects.at(request.seat.school).select_related("horn", "pupil", "check_at_issue__by"), pk=pk
    )
    known = open_findings(loan.horn)
    form = ReturnForm(request.POST or None, loan=loan, today=timezone.localdate(request.now))
    check = CheckForm(
        request.POST or None, request.FILES or None, known=known, initial={"occasion": "on-return"}
    )
    refused = None
    if request.method == "POST" and form.is_valid() & check.is_valid():
        try:
            ended = _give_back(request, loan, form, check)
        except Refused as no:
            refused = no
        else:
            return _done(request, ended)
    context = {
        "loan": loan,
        "form": form,
        "check": check,
        "at_issue": list(loan.check_at_issue.findings.all()),
        "refused": refused,
        "way_out": way_out_of(refused, loan.horn, request.seat),
        "cautions": [catalogue().cautions[code] for code in CAUTIONS],
        **check.so_far(),
    }
    status = 200 if request.method != "POST" else 409 if refused else 422
    return render(request, "loans/return.html", context, status=status)
