"""The page where a school says how its label sheets are cut."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions.labels import keep_label_sheet
from fleet.register.forms.labels import LabelSheetForm
from fleet.register.models.labels import label_sheet_of


def label_sheet(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    form = LabelSheetForm(posted(request), instance=label_sheet_of(seat.school))
    return answer(
        request,
        form,
        lambda: keep_label_sheet(school=seat.school, sizes=form.cleaned_data, by=request.user, at=request.now),
        page="register/label_sheet.html",
        said=lambda sheet: (
            _s("%(sheet)s. Print the alignment page on plain paper and hold it against a sheet.") % {"sheet": sheet}
        ),
        then=lambda sheet: seat.here("register:label-sheet"),
    )
