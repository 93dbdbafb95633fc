"""Photographs of horns: shown only to the school's staff, through a page of ours and never by a bare address."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted, posted_files, sure
from fleet.ground.files.given import guarded
from fleet.ground.pictures import reduced
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import photographs
from fleet.register.forms.photographs import PhotographForm
from fleet.register.models import Horn, Photograph


def picture_response(photograph: Photograph, *, small: bool = False) -> HttpResponseBase:
    """The picture's file, as the one kind of file it can be; nothing in it may run. 404 when the file is gone."""
    response: HttpResponseBase
    try:
        opened = photograph.image.open("rb")
        if small:
            with opened:
                response = HttpResponse(reduced(opened), content_type="image/jpeg")
        else:
            response = FileResponse(opened, content_type="image/jpeg")
    except OSError as gone:
        raise Http404("The picture’s file is gone.") from gone
    response.headers["Content-Disposition"] = "inline"
    return guarded(response)


def photograph(request: SeatedRequest, pk: int) -> HttpResponseBase:
    """The picture; with `small` so small that a list of horns can show one a row."""
    found = get_object_or_404(Photograph, horn__school=request.seat.school, pk=pk)
    return picture_response(found, small=bool(request.GET.get("small")))


def photograph_add(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    form = PhotographForm(posted(request), posted_files(request))
    return answer(
        request,
        form,
        lambda: photographs.add_photograph(horn=horn, by=request.user, at=request.now, **form.said),
        page="register/photograph_add.html",
        shown=lambda: {"horn": horn},
        said=_s("The photograph is kept."),
        then=lambda added: seat.here("desk:horn", horn.pk),
        refused_on="picture",
    )


def photograph_remove(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    found = get_object_or_404(Photograph.objects.select_related("horn"), horn__school=seat.school, pk=pk)
    return answer(
        request,
        sure(request),
        lambda: photographs.remove_photograph(photograph=found, by=request.user, at=request.now),
        page="register/photograph_remove.html",
        shown=lambda: {"photograph": found, "horn": found.horn},
        said=_s("The photograph is gone."),
        then=lambda _: seat.here("desk:horn", found.horn_id),
    )
