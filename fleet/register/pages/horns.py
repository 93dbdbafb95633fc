"""The list of horns, and the pages of a horn's particulars."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.answering import answer, posted
from fleet.ground.tables import as_typed
from fleet.ground.wording import in_a_row
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import horns as horns_actions
from fleet.register.forms.horns import HornForm
from fleet.register.models import Horn
from fleet.register.models.kinds import reversible
from fleet.register.pages.table import HornTable
from fleet.register.queries.filters import HornFilters, options
from fleet.register.queries.numbers import next_free


@as_typed
def horns(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    filters = HornFilters(request.GET, school=school, request=request)
    table = HornTable(filters, school=school, today=request.today)
    RequestConfig(request).configure(table)
    typed = filters.typed(table.data.page)
    places = [] if typed["place"] else table.data.page.places
    shown = {
        "filters": filters,
        "selects": filters.selects,
        "typed": typed,
        "places": options(places, filters.form.cleaned_data.get("place")),
        "page": table.data.page,
        "table": table,
        "sort": table.data.sort,
        "withdrawn": table.data.page.withdrawn,
    }
    return render(request, "register/horns.html", shown)


def horn_new(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    suggested = next_free(seat.school)
    form = HornForm(
        posted(request),
        instance=Horn(school=seat.school),
        initial={"number": suggested, "suggested": suggested, "place": request.GET.get("place")},
        seat=seat,
        now=request.now,
    )
    return answer(
        request,
        form,
        lambda: horns_actions.register_horn(school=seat.school, by=request.user, at=request.now, **form.said),
        page="register/horn_new.html",
        said=lambda horn: in_a_row(
            _s("Registered as %(number)s.") % {"number": horn.number},
            taken_meanwhile(horn, form.cleaned_data["number"]),
        ),
        then=lambda horn: seat.here("desk:horn", horn.pk),
        refused_on="number",
    )


def taken_meanwhile(horn: Horn, asked: str) -> str:
    """What to say besides where the horn did not get the number that was asked for."""
    return _s("Somebody took %(number)s a moment ago.") % {"number": asked} if horn.number != asked else ""


def horn_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school).select_related("school"), pk=pk)
    form = HornForm(posted(request), instance=horn, seat=seat, now=request.now)
    return answer(
        request,
        form,
        lambda: horns_actions.amend_horn(horn=horn, changes=form.changes, by=request.user, at=request.now),
        page="register/horn_edit.html",
        shown=lambda: {"horn": horn, "reversible": reversible(form.initial.get("build") or "")},
        said=lambda changed: (
            _s("%(number)s is saved.") % {"number": horn.number} if changed else _s("Nothing was changed.")
        ),
        then=lambda changed: seat.here("desk:horn", horn.pk),
    )
