"""Everything that can be printed, on one page."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _s

from fleet.ground.paging import counted
from fleet.lending.models import Loan
from fleet.people.forms.classes import class_asked
from fleet.people.queries.seats import SeatedRequest
from fleet.register.forms.places import OnePlaceForm
from fleet.register.models import Disposal
from fleet.register.models.labels import label_sheet_of

# Of the loan sheets; the others are one search away.
NEWEST = 20


def prints(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    out = Loan.objects.at(school).open()
    # Keys first: they are sorted by themselves, not with all that each loan says.
    newest = list(out.order_by("-issued_on", "-pk").values_list("pk", flat=True)[:NEWEST])
    given_up = Disposal.objects.at(school).filter(approved=True)
    context = {
        "loans": Loan.objects.filter(pk__in=newest).select_related("horn", "pupil"),
        "older": counted(out, beyond=NEWEST),
        "of_class": class_asked(request.GET, school),
        "of_place": OnePlaceForm(request.GET, school=school, label=_s("Place"), empty=_s("all places")),
        "sheet": label_sheet_of(school),
        "disposals": given_up.select_related("horn").order_by("-on", "-pk")[:5],
        # What was typed for a print that could not be made.
        "asked": request.GET,
    }
    return render(request, "desk/prints.html", context)
