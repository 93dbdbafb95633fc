"""Today: what needs doing now, for the role that looks."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render

from fleet.desk.queries.piles import Day
from fleet.desk.queries.today import first_steps, piles
from fleet.people.queries.seats import SeatedRequest

TOLD_BEFORE = timedelta(days=14)


def today(request: SeatedRequest) -> HttpResponse:
    day = Day(seat=request.seat, now=request.now)
    second_step = request.seat.second_step_from
    return render(
        request,
        "desk/today.html",
        {
            "today": day.today,
            "piles": piles(day),
            "first_steps": first_steps(day),
            "second_step_by": second_step if second_step and second_step - request.now <= TOLD_BEFORE else None,
        },
    )
