"""Photographs of horns: shown only to the school's staff, through a page of ours and never by a bare address."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.queries.seats import SeatedRequest
from fleet.register.actions import photographs
from fleet.register.forms.photographs import PhotographForm
from fleet.register.models import Horn, Photograph


def picture_response(photograph: Photograph) -> FileResponse:
    """The picture's file, as the one kind of file it can be; nothing in it may run. 404 when the file is gone."""
    try:
        opened = photograph.image.open("rb")
    except FileNotFoundError as gone:
        raise Http404("The picture's file is gone.") from gone
    response = FileResponse(opened, content_type="image/jpeg")
    response.headers["Content-Disposition"] = "inline"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    # A picture never changes under its address; on a shared machine it stays with the one who looked.
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response


def photograph(request: SeatedRequest, pk: int) -> HttpResponseBase:
    return picture_response(get_object_or_404(Photograph, horn__school=request.seat.school, pk=pk))


def photograph_add(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    horn = get_object_or_404(Horn.objects.at(school), pk=pk)
    form = PhotographForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        image, width, height = form.fresh
        try:
            photographs.add_photograph(
                horn=horn,
                image=image,
                width=width,
                height=height,
                caption=form.cleaned_data["caption"],
                by=request.user,
                at=request.now,
            )
        except Refused as no:
            form.add_error("picture", no.sentence)
        else:
            messages.success(request, "The photograph is kept.")
            return redirect("desk:horn", school.slug, horn.pk)
    return render(request, "register/photograph_add.html", {"form": form, "horn": horn}, status=status_of(request))


def photograph_remove(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    found = get_object_or_404(Photograph.objects.select_related("horn"), horn__school=school, pk=pk)
    if request.method == "POST":
        photographs.remove_photograph(photograph=found)
        messages.success(request, "The photograph is gone.")
        return redirect("desk:horn", school.slug, found.horn_id)
    return render(request, "register/photograph_remove.html", {"photograph": found, "horn": found.horn})
