"""Today: what needs doing now, for the role that looks."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fleet.desk.queries.piles import Day
from fleet.desk.queries.today import first_steps, in_sight, piles
from fleet.ground.access import Role
from fleet.people.models import Post
from fleet.people.queries.issuers import still_to_vouch
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.forms.bench import VisitForm
from fleet.workshop.queries.rounds import round_of

TOLD_BEFORE = timedelta(days=14)


def today(request: SeatedRequest) -> HttpResponse:
    day = Day(seat=request.seat, now=request.now)
    waits = piles(day)
    opened, folded = in_sight(waits)
    second_step = request.seat.second_step_from
    return render(
        request,
        "desk/today.html",
        {
            "today": day.today,
            "piles": waits,
            "opened": opened,
            "folded": folded,
            "first_steps": first_steps(day),
            "visit_form": VisitForm() if request.seat.role == Role.TECHNICIAN else None,
            "second_step_by": second_step if second_step and second_step - request.now <= TOLD_BEFORE else None,
        },
    )


def benches(request: HttpRequest) -> HttpResponse:
    """The benches of all schools where this person is the technician, in one order."""
    posts = Post.objects.filter(user__pk=int(request.user.pk or 0), role=Role.TECHNICIAN).select_related(
        "school", "user"
    )
    now: datetime = request.now  # type: ignore[attr-defined]
    schools = [post.school for post in posts if not still_to_vouch(request, post.school, post.user)]
    stops = round_of(schools, now)
    return render(request, "desk/benches.html", {"today": timezone.localdate(now), **stops})
