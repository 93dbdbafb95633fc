"""What the pages of one loan share: a short form, and the way on to the loan's page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from fleet.ground.answering import Done, answer
from fleet.lending.models import Loan
from fleet.people.queries.seats import SeatedRequest


def loan_asked(request: SeatedRequest, pk: int) -> Loan:
    related = ("horn__school", "pupil", "guardian", "returned_to")
    return get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)


def short_form(
    request: SeatedRequest,
    loan: Loan,
    form: forms.Form,
    act: Callable[[], Done],
    *,
    page: str,
    title: str,
    said: Callable[[Done], str] | str,
    **more: Any,
) -> HttpResponse:
    """The form about a loan, or what was done with it, told on the loan's page. `more` is for the page."""
    return answer(
        request,
        form,
        act,
        page=page,
        shown=lambda: {"loan": loan, "title": title, **more},
        said=said,
        then=lambda _: request.seat.here("loans:loan", loan.pk),
    )
