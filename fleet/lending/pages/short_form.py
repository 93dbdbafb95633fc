"""What the pages of a loan that runs share: one short form, its refusal, its way on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.people.queries.seats import SeatedRequest


def running_loan(request: SeatedRequest, pk: int) -> Loan:
    related = ("horn__school", "pupil", "guardian", "returned_to")
    return get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)


def short_form(
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
    status = 200 if request.method != "POST" else 409 if refused else 422
    context = {"loan": loan, "form": form, "refused": refused, **more}
    return render(request, f"loans/{name}.html", context, status=status)
