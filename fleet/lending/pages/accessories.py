"""What became of a thing that did not come back with its horn."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import posted
from fleet.lending.actions.accessories import settle
from fleet.lending.forms.accessories import SettledForm
from fleet.lending.models import LoanAccessory
from fleet.lending.pages.short_form import short_form
from fleet.people.queries.seats import SeatedRequest


def accessory(request: SeatedRequest, pk: int) -> HttpResponse:
    related = ("loan__horn", "loan__pupil", "settled_by")
    thing = get_object_or_404(LoanAccessory.objects.at(request.seat.school).select_related(*related), pk=pk)
    form = SettledForm(posted(request))
    return short_form(
        request,
        thing.loan,
        form,
        lambda: settle(accessory=thing, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/accessory.html",
        title=_s("The %(thing)s of %(horn)s") % {"thing": thing, "horn": thing.loan.horn},
        said=lambda settled: (
            _s("The %(settled)s %(settled_as)s.") % {"settled": settled, "settled_as": settled.get_settled_as_display()}
        ),
        thing=thing,
    )
