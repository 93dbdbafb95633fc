"""The page that says what to buy, mend and restring for a budget over some years. It changes nothing."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from fleet.matching.forms import BuyingForm
from fleet.matching.queries.planning import Planned, planned
from fleet.matching.queries.prices import figures_known
from fleet.people.queries.seats import SeatedRequest


def plan_asked(request: SeatedRequest) -> tuple[BuyingForm, Planned | None]:
    """The form as the address fills it in, and the plan it asks for; None where it asks for none, and where no pupil is
    in a class."""
    school = request.seat.school
    sent = request.GET if "budget" in request.GET else None
    form = BuyingForm(sent, known=figures_known(school), currency=school.currency)
    return form, planned(school, form.asked, request.today) if form.is_valid() else None


def buying(request: SeatedRequest) -> HttpResponse:
    form, plan = plan_asked(request)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        context |= {"plan": plan, "asked": form.asked, "query": request.GET.urlencode()}
    return render(request, "loans/buying.html", context)
