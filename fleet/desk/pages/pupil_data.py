"""A pupil's data handed out or taken out on request. Heads only; both stand in the log of openings."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _s

from fleet.desk.actions.forgetting import forget, would
from fleet.desk.forms import ForgetForm
from fleet.desk.queries.personal import as_zip, of_pupil
from fleet.ground.answering import answer, posted
from fleet.people.models import Pupil
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest


def pupil_data(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school).select_related("school"), pk=pk)
    note_opening(request, pupil=pupil)
    answer = HttpResponse(as_zip({"pupils": [of_pupil(pupil)]}, at=request.now), content_type="application/zip")
    answer.headers["Content-Disposition"] = content_disposition_header(True, f"pupil-{pk}.zip") or "attachment"
    return answer


def pupil_forget(request: SeatedRequest, pk: int) -> HttpResponse:
    """What would go, and with the tick, its going."""
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    if request.method == "POST":
        note_opening(request, pupil=pupil)
    return answer(
        request,
        ForgetForm(posted(request)),
        lambda: forget(pupil=pupil, by=request.user, at=request.now),
        page="desk/pupil_forget.html",
        shown=lambda: {"pupil": pupil, "would": would(pupil)},
        said=_s("The names are taken out. The horns keep their history."),
        then=lambda _: request.seat.here("people:pupils"),
    )
