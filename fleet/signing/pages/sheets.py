"""The button that puts sheets away: they are not waited for any more."""

from __future__ import annotations

from django.http import HttpResponse

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.actions.sheets import put_away
from fleet.signing.forms.particulars import SheetsForm
from fleet.signing.models import SheetOut


def sheets_away(request: SeatedRequest) -> HttpResponse:
    """Leads back to where the button stood."""
    form = SheetsForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: put_away(
            school=request.seat.school, sheets=form.cleaned_data["sheet"], by=request.user, at=request.now
        ),
        to=way_back(request, request.seat.here("desk:today")),
        said=_said,
    )


def _said(sheets: list[SheetOut]) -> str:
    if len(sheets) == 1:
        return f"The sheet of {sheets[0].horn} for {sheets[0].pupil} is put away."
    return f"{len(sheets)} sheets are put away." if sheets else ""
