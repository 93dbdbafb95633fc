"""Pupils and guardians for teaching staff; the school's settings and staff for its heads."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django_tables2 import RequestConfig

from fleet.access import Role, SeatedRequest
from fleet.people import actions
from fleet.people.forms import (
    GuardianForm,
    PostForm,
    PupilForm,
    SchoolForm,
    StaffForm,
    StillAnswersForm,
)
from fleet.people.models import Guardian, Post, Pupil
from fleet.people.openings import note
from fleet.people.tables import PupilTable
from fleet.refused import Refused, status_of
from fleet.way_back import way_back


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
    note(request, pupil=pupil)
    form = PupilForm(request.POST or None, instance=pupil)
    if request.method == "POST" and form.is_valid():
        form.save()
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
        guardian = actions.save_guardian(guardian=form.instance, pupil=pupil)
        messages.success(request, f"{guardian.name} answers for {pupil.name}.")
        return redirect(way_back(request, reverse("people:pupil-edit", args=(request.seat.school.slug, pupil.pk))))
    return render(request, "people/guardian.html", {"form": form, "pupil": pupil}, status=status_of(request))


def guardian_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    guardian = get_object_or_404(Guardian, school=request.seat.school, pk=pk)
    note(request, guardian=guardian)
    form = GuardianForm(request.POST or None, instance=guardian)
    answers = StillAnswersForm(request.POST or None, guardian=guardian)
    if request.method == "POST" and form.is_valid() and answers.is_valid():
        actions.save_guardian(guardian=guardian)
        actions.let_go(guardian=guardian, pupil_ids=answers.let_go())
        messages.success(request, f"{guardian.name} is saved.")
        return redirect("people:pupils", request.seat.school.slug)
    return render(
        request,
        "people/guardian.html",
        {"form": form, "answers": answers, "guardian": guardian},
        status=status_of(request),
    )


def settings(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = SchoolForm(request.POST or None, instance=school)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The settings are saved.")
        return redirect("people:settings", school.slug)
    posts = school.posts.select_related("user").order_by("user__name", "pk")
    return render(request, "people/settings.html", {"form": form, "posts": posts}, status=status_of(request))


def staff_new(request: SeatedRequest) -> HttpResponse:
    form = StaffForm(request.POST or None, may_appoint_service=request.seat.role == Role.SERVICE)
    if request.method == "POST" and form.is_valid():
        try:
            post = actions.appoint(school=request.seat.school, by_role=request.seat.role, **form.cleaned_data)
        except Refused as no:
            form.add_error("email", no.sentence)
        else:
            messages.success(request, f"{post.user} is {post.get_role_display()} here now.")
            return redirect("people:settings", request.seat.school.slug)
    return render(request, "people/staff.html", {"form": form}, status=status_of(request))


def staff_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    post = get_object_or_404(Post.objects.select_related("user"), school=request.seat.school, pk=pk)
    by_service = request.seat.role == Role.SERVICE
    form = PostForm(request.POST or None, may_appoint_service=by_service, initial={"role": post.role})
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_post(post=post, role=form.cleaned_data["role"], by_role=request.seat.role)
        except Refused as no:
            form.add_error("role", no.sentence)
        else:
            messages.success(request, f"The post of {post.user} is changed.")
            if post.user_id == request.user.pk:
                # Their own right to the settings may be gone with it.
                return redirect("desk:home")
            return redirect("people:settings", request.seat.school.slug)
    return render(request, "people/staff.html", {"form": form, "post": post}, status=status_of(request))
