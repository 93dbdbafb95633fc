"""The school's settings and its staff, for its heads."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from fleet.ground.access import Role
from fleet.ground.answering import status_of
from fleet.ground.refusal import Refused
from fleet.people.actions import staff
from fleet.people.forms.schools import SchoolForm
from fleet.people.forms.staff import PostForm, StaffForm
from fleet.people.models import Post
from fleet.people.queries.seats import SeatedRequest


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
            post = staff.appoint(school=request.seat.school, by_role=request.seat.role, **form.cleaned_data)
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
            staff.change_post(post=post, role=form.cleaned_data["role"], by_role=request.seat.role)
        except Refused as no:
            form.add_error("role", no.sentence)
        else:
            messages.success(request, f"The post of {post.user} is changed.")
            if post.user_id == request.user.pk:
                # Their own right to the settings may be gone with it.
                return redirect("desk:home")
            return redirect("people:settings", request.seat.school.slug)
    return render(request, "people/staff.html", {"form": form, "post": post}, status=status_of(request))
