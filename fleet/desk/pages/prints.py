"""Everything that can be printed, on one page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Disposal
from fleet.register.models.labels import label_sheet_of

# Of the loan sheets; the others are one search away.
NEWEST = 20


def prints(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    newest = Loan.objects.at(school).open().select_related("horn", "pupil").order_by("-issued_on", "-pk")
    given_up = Disposal.objects.at(school).filter(approved=True)
    groups = Pupil.objects.at(school).filter(left_on=None).exclude(group="").values_list("group", flat=True)
    context = {
        "loans": newest[:NEWEST],
        "older": max(0, newest.count() - NEWEST),
        "groups": groups.distinct().order_by("group_sorted_by", "group"),
        "places": school.places.all(),
        "sheet": label_sheet_of(school),
        "disposals": given_up.select_related("horn").order_by("-on", "-pk")[:5],
        # What was typed for a print that could not be made.
        "asked": request.GET,
    }
    return render(request, "desk/prints.html", context)
