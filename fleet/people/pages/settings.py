"""The school's settings and its staff, for its heads."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from fleet.ground.access import Role
from fleet.ground.answering import answer, posted
from fleet.people.actions import schools, staff
from fleet.people.forms.schools import SchoolForm
from fleet.people.forms.staff import PostForm, StaffForm
from fleet.people.models import Post
from fleet.people.queries.seats import SeatedRequest


def settings(request: SeatedRequest) -> HttpResponse:
    seat = request.seat
    form = SchoolForm(posted(request), instance=seat.school)
    return answer(
        request,
        form,
        lambda: schools.change_settings(school=seat.school, settings=form.said, by=request.user, at=request.now),
        page="people/settings.html",
        shown=lambda: {"posts": seat.school.posts.select_related("user").order_by("user__name", "pk")},
        said="The settings are saved.",
        then=lambda school: seat.here("people:settings"),
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
        then=lambda post: seat.here("people:settings"),
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
        then=lambda _: reverse("desk:home") if own else seat.here("people:settings"),
        refused_on="role",
    )
