"""A family's papers: what it signed, was sent and has to pay, in the language it was in, with the due dates for a
calendar."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext

from fleet.desk.forms import FeedForm
from fleet.desk.queries.family import only_families, own_loans, own_records
from fleet.desk.queries.papers import own_letters, own_words, papers_of
from fleet.ground.addresses import origin_of
from fleet.ground.answering import answer_elsewhere, one_of, posted
from fleet.ground.languages.known import KNOWN
from fleet.letters.actions.calendar import make_key, revoke
from fleet.letters.models import CalendarKey
from fleet.letters.queries.calendar import due_dates_of
from fleet.people.models import Pupil, School, User

FRESH = "family_calendar_secret"


def papers(request: HttpRequest) -> HttpResponse:
    loans, signatures, letters = papers_of(request)
    reports, asked = own_words(request)
    shown = {
        "papers": loans,
        "signatures": signatures,
        "letters": letters,
        "reports": reports,
        "asks": asked,
        "records": [(one, KNOWN[one.speaks].name) for one in own_records(request)],
        "pupils": Pupil.objects.answered_for_by(cast(User, request.user)).in_order().select_related("school"),
    }
    return render(request, "desk/family_papers.html", shown)


def letter(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "desk/family_letter.html", {"letter": get_object_or_404(own_letters(request), pk=pk)})


def calendar(request: HttpRequest) -> HttpResponse:
    """The due dates for a calendar program: a secret address a school, shown once, and its end."""
    user, now = only_families(request), request.now  # type: ignore[attr-defined]
    schools = School.objects.filter(guardians__user=user).distinct().order_by("name", "pk")
    form = FeedForm(posted(request), schools=schools)

    def make() -> None:
        school = form.cleaned_data["school"]
        request.session[FRESH] = [school.pk, make_key(school=school, user=user, for_family=True, at=now)]

    def end() -> None:
        revoke(school=form.cleaned_data["school"], user=user, for_family=True, at=now)

    if (act := one_of(request, {"end": end, "": make})) is not None:
        ended = gettext("The address is ended. Calendars that used it get nothing any more.")
        said = ended if act is end else ""
        return answer_elsewhere(request, form, act, to=reverse("desk:family-calendar"), said=said)
    fresh, secret = request.session.pop(FRESH, (None, ""))
    address = origin_of(request) + reverse("calendar-feed", args=(secret,)) if secret else ""
    keys = CalendarKey.objects.filter(user=user, for_family=True, revoked_at=None)
    held = {key.school_id: key for key in keys}
    feeds = [(school, held.get(school.pk), address if school.pk == fresh else "") for school in schools]
    return render(request, "desk/family_calendar.html", {"feeds": feeds})


def due(request: HttpRequest) -> HttpResponse:
    """The due dates as a calendar file, and nothing else."""
    content = due_dates_of(own_loans(request), request.now, origin_of(request))  # type: ignore[attr-defined]
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer.headers["Content-Disposition"] = content_disposition_header(True, "horns.ics") or "attachment"
    return answer
