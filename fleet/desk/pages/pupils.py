"""Pupils and guardians for teaching staff."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django_tables2 import RequestConfig

from fleet.ground.addresses import way_back
from fleet.ground.answering import status_of
from fleet.lending.actions.pupils import amend
from fleet.people.actions import families
from fleet.people.actions.openings import note_opening
from fleet.people.forms.families import GuardianForm, PupilForm, StillAnswersForm
from fleet.people.models import Guardian, Pupil
from fleet.people.pages.pupil_table import PupilTable
from fleet.people.queries.seats import SeatedRequest


def pupils(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    words = request.GET.get("q", "")[:80].replace("\0", "")
    found = Pupil.objects.at(school).filter(left_on=None).matching(words).prefetch_related("guardians")
    table = PupilTable(found, school=school.slug, order_by="name")
    RequestConfig(request, paginate={"per_page": 50, "silent": True}).configure(table)
    return render(request, "people/pupils.html", {"table": table, "q": words})


def pupil_new(request: SeatedRequest) -> HttpResponse:
    form = PupilForm(request.POST or None, instance=Pupil(school=request.seat.school))
    if request.method == "POST" and form.is_valid():
        pupil = form.save()
        messages.success(request, f"{pupil.name} is on record. Now add who answers for them.")
        return redirect("people:guardian-new", request.seat.school.slug, pupil.pk)
    return render(request, "people/pupil.html", {"form": form}, status=status_of(request))


def pupil_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    note_opening(request, pupil=pupil)
    form = PupilForm(request.POST or None, instance=pupil)
    if request.method == "POST" and form.is_valid():
        amend(pupil=pupil, changes=form.cleaned_data, by=request.user, at=request.now)
        messages.success(request, f"{pupil.name} is saved.")
        return redirect("people:pupils", request.seat.school.slug)
    guardians = pupil.guardians.order_by("name", "pk")
    return render(
        request, "people/pupil.html", {"form": form, "pupil": pupil, "guardians": guardians}, status=status_of(request)
    )


def guardian_new(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    form = GuardianForm(request.POST or None, instance=Guardian(school=request.seat.school))
    if request.method == "POST" and form.is_valid():
        guardian = families.save_guardian(guardian=form.instance, pupil=pupil)
        messages.success(request, f"{guardian.name} answers for {pupil.name}.")
        return redirect(way_back(request, reverse("people:pupil-edit", args=(request.seat.school.slug, pupil.pk))))
    return render(request, "people/guardian.html", {"form": form, "pupil": pupil}, status=status_of(request))


def guardian_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    guardian = get_object_or_404(Guardian, school=request.seat.school, pk=pk)
    note_opening(request, guardian=guardian)
    form = GuardianForm(request.POST or None, instance=guardian)
    answers = StillAnswersForm(request.POST or None, guardian=guardian)
    if request.method == "POST" and form.is_valid() and answers.is_valid():
        families.save_guardian(guardian=guardian)
        families.let_go(guardian=guardian, pupil_ids=answers.let_go())
        messages.success(request, f"{guardian.name} is saved.")
        return redirect("people:pupils", request.seat.school.slug)
    return render(
        request,
        "people/guardian.html",
        {"form": form, "answers": answers, "guardian": guardian},
        status=status_of(request),
    )
