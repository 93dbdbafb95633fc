"""The school's settings, a page a subject, and its staff, for its heads."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from functools import partial
from typing import Any
from urllib.parse import urlencode

from django.conf import settings as site
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.ground.access import Role
from fleet.ground.answering import answer, one_of, posted, sure
from fleet.ground.languages.known import KNOWN
from fleet.people.actions import school_year, schools, staff
from fleet.people.forms.school_year import HolidayForm, YearForm
from fleet.people.forms.schools import (
    LanguagesForm,
    LendingForm,
    SchoolForm,
    SettingsForm,
    SignInForm,
    StaffRulesForm,
    WorkshopForm,
)
from fleet.people.forms.staff import PostForm, StaffForm
from fleet.people.models import Holiday, Post, School
from fleet.people.queries.issuers import vouched_by
from fleet.people.queries.school_days import due_within
from fleet.people.queries.seats import SeatedRequest

# Of the loans due within a holiday so many horns are named.
NAMED = 3


def settings(request: SeatedRequest) -> HttpResponse:
    """The subjects, each with the way to its page."""
    return render(request, "people/settings.html")


def school(request: SeatedRequest) -> HttpResponse:
    return _subject(request, _form(request, SchoolForm), "school", _s("The school"))


def languages(request: SeatedRequest) -> HttpResponse:
    form, page = _form(request, LanguagesForm), "people/settings_languages.html"
    return _subject(request, form, "languages", _s("Languages"), lambda: {"known": KNOWN.values()}, page=page)


def lending(request: SeatedRequest) -> HttpResponse:
    return _subject(request, _form(request, LendingForm), "lending", _s("Lending"), page="people/settings_lending.html")


def workshop(request: SeatedRequest) -> HttpResponse:
    return _subject(request, _form(request, WorkshopForm), "workshop", _s("Workshop and care"))


def staff_list(request: SeatedRequest) -> HttpResponse:
    posts = request.seat.school.posts.select_related("user").order_by("user__name", "pk")
    form = _form(request, StaffRulesForm)
    return _subject(request, form, "staff", _s("Staff"), lambda: {"posts": posts}, page="people/settings_staff.html")


def sign_in(request: SeatedRequest) -> HttpResponse:
    """How staff come in, with a look at who would come in how."""
    seat = request.seat
    form = SignInForm(posted(request), instance=seat.school)
    return answer(
        request,
        form,
        lambda: schools.change_sign_in(
            school=seat.school,
            issuer=form.said["sign_in_by"],
            came_by=vouched_by(request),
            by=request.user,
            at=request.now,
        ),
        page="people/settings_sign_in.html",
        shown=lambda: {"title": _s("How staff sign in"), "looks": _looks(seat.school)},
        said=_s("The settings are saved."),
        then=lambda _: seat.here("people:settings-sign-in"),
    )


def _looks(school: School) -> list[dict[str, Any]]:
    """For each issuer who of the staff would come in with it, and who as before."""
    staff = [post.user for post in school.posts.select_related("user").order_by("user__name", "pk")]
    return [
        {
            "issuer": one,
            "so": [person for person in staff if one.speaks_for(person.email)],
            "as_before": [person for person in staff if not one.speaks_for(person.email)],
        }
        for one in site.ISSUERS
    ]


def year(request: SeatedRequest) -> HttpResponse:
    """The end of the school year, with the holidays: those that are over apart."""
    seat, today = request.seat, request.today
    form = YearForm(posted(request), instance=seat.school, today=today)
    shown = partial(_holidays, seat.school, today)
    return _subject(request, form, "year", _s("School year"), shown, page="people/settings_year.html")


def _holidays(school: School, today: date) -> dict[str, Any]:
    held = list(school.holidays.all())
    coming = [one for one in held if one.last >= today]
    due = due_within(coming, school)
    return {
        "holidays": [(one, _told_due(due.get(one.pk, []))) for one in coming],
        "over": [(one, None) for one in held if one.last < today],
        "year_over": school.year_ends is not None and school.year_ends < today,
    }


def _told_due(loans: list[tuple[int, str]]) -> dict[str, Any] | None:
    """The loans due within a holiday: how many, the first of them in words, and their keys for the address."""
    if not loans:
        return None
    named = ", ".join(number for _, number in loans[:NAMED])
    if loans[NAMED:]:
        named = _s("%(names)s and %(many)s more") % {"names": named, "many": len(loans) - NAMED}
    return {"many": len(loans), "words": named, "asked": urlencode([("loan", key) for key, _ in loans])}


def holiday_new(request: SeatedRequest) -> HttpResponse:
    return _holiday(request, Holiday(school=request.seat.school))


def holiday_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    held = get_object_or_404(Holiday, school=request.seat.school, pk=pk)
    act = one_of(request, {"remove": _holiday_removed}) or _holiday
    return act(request, held)


def _holiday(request: SeatedRequest, held: Holiday) -> HttpResponse:
    form = HolidayForm(posted(request), instance=held)
    return answer(
        request,
        form,
        lambda: school_year.keep_holiday(holiday=held, **form.cleaned_data, by=request.user, at=request.now),
        page="people/holiday.html",
        shown=lambda: {"holiday": held},
        said=lambda kept: (
            _s("%(kept)s is saved. Loans that are out keep their due days until they are moved.") % {"kept": kept}
        ),
        then=lambda _: request.seat.here("people:settings-year"),
    )


def _holiday_removed(request: SeatedRequest, held: Holiday) -> HttpResponse:
    return answer(
        request,
        sure(request),
        lambda: school_year.remove_holiday(holiday=held, by=request.user, at=request.now),
        page="people/holiday.html",
        shown=lambda: {"form": HolidayForm(instance=held), "holiday": held},
        said=lambda name: _s("%(name)s is removed.") % {"name": name},
        then=lambda _: request.seat.here("people:settings-year"),
    )


def _form(request: SeatedRequest, of: type[SettingsForm]) -> SettingsForm:
    return of(posted(request), instance=request.seat.school)


def _subject(
    request: SeatedRequest,
    form: SettingsForm,
    name: str,
    title: str,
    shown: Callable[[], Mapping[str, Any]] = dict,
    *,
    page: str = "people/settings_subject.html",
) -> HttpResponse:
    """The page of one subject: its own form, which leaves every other subject as it is."""
    seat = request.seat
    return answer(
        request,
        form,
        lambda: schools.change_settings(school=seat.school, settings=form.said, by=request.user, at=request.now),
        page=page,
        shown=lambda: {"title": title, **shown()},
        said=_s("The settings are saved."),
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
        said=lambda post: _s("%(user)s is %(role)s here now.") % {"user": post.user, "role": post.get_role_display()},
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
        said=_s("The post of %(user)s is changed.") % {"user": post.user},
        then=lambda _: reverse("desk:home") if own else seat.here("people:settings-staff"),
        refused_on="role",
    )
