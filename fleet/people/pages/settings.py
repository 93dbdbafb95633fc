"""The school's settings, a page a subject, and its staff, for its heads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.answering import answer, posted
from fleet.people.actions import schools, staff
from fleet.people.forms.schools import LendingForm, SchoolForm, SettingsForm, StaffRulesForm, WorkshopForm
from fleet.people.forms.staff import PostForm, StaffForm
from fleet.people.models import Post
from fleet.people.queries.seats import SeatedRequest


def settings(request: SeatedRequest) -> HttpResponse:
    """The subjects, each with the way to its page."""
    return render(request, "people/settings.html")


def school(request: SeatedRequest) -> HttpResponse:
    return _subject(request, SchoolForm, "school", "The school")


def lending(request: SeatedRequest) -> HttpResponse:
    return _subject(request, LendingForm, "lending", "Lending")


def workshop(request: SeatedRequest) -> HttpResponse:
    return _subject(request, WorkshopForm, "workshop", "Workshop and care")


def staff_list(request: SeatedRequest) -> HttpResponse:
    posts = request.seat.school.posts.select_related("user").order_by("user__name", "pk")
    return _subject(request, StaffRulesForm, "staff", "Staff", lambda: {"posts": posts})


def _subject(
    request: SeatedRequest,
    form_of: type[SettingsForm],
    name: str,
    title: str,
    shown: Callable[[], Mapping[str, Any]] = dict,
) -> HttpResponse:
    """The page of one subject: its own form, which leaves every other subject as it is."""
    seat = request.seat
    form = form_of(posted(request), instance=seat.school)
    return answer(
        request,
        form,
        lambda: schools.change_settings(school=seat.school, settings=form.said, by=request.user, at=request.now),
        page=f"people/settings_{name}.html",
        shown=lambda: {"title": title, **shown()},
        said="The settings are saved.",
        then=lambda _: seat.here(f"people:settings-{name}"),
    )


def staff_new(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    form = StaffForm(posted(request), may_appoint_service=seat.role == Role.SERVICE)
    return answer(
        request,
        form,
        lambda: staff.appoint(
            school=seat.school, by_role=seat.role, by=request.user, at=request.now, **form.cleaned_data
        ),
        page="people/staff.html",
        said=lambda post: f"{post.user} is {post.get_role_display()} here now.",
        then=lambda post: seat.here("people:settings-staff"),
        refused_on="email",
    )


def staff_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    post = get_object_or_404(Post.objects.select_related("user"), school=seat.school, pk=pk)
    form = PostForm(posted(request), may_appoint_service=seat.role == Role.SERVICE, initial={"role": post.role})
    # Their own right to the settings may be gone with it.
    own = post.user_id == request.user.pk
    return answer(
        request,
        form,
        lambda: staff.change_post(
            post=post, role=form.cleaned_data["role"], by_role=seat.role, by=request.user, at=request.now
        ),
        page="people/staff.html",
        shown=lambda: {"post": post},
        said=f"The post of {post.user} is changed.",
        then=lambda _: reverse("desk:home") if own else seat.here("people:settings-staff"),
        refused_on="role",
    )
