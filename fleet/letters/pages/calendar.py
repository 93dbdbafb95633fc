"""Due dates as a calendar (RFC 5545) that a calendar program reads under a secret address of its own.

A calendar program cannot sign in, so this door stands open and the secret is the key.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.ground.addresses import origin_of
from fleet.ground.answering import one_of
from fleet.letters.actions.calendar import make_key, note_read, revoke
from fleet.letters.models import CalendarKey
from fleet.letters.queries.calendar import due_dates, key_of
from fleet.people.queries.seats import SeatedRequest

FRESH = "calendar_secret"


def calendar(request: SeatedRequest) -> HttpResponse:
    """A person's own feed: whether there is one, a new address (shown once), and its end."""
    school = request.seat.school
    act = one_of(request, {"revoke": _revoke, "": _make})
    if act is not None:
        act(request)
        return redirect("loans:calendar", school.slug)
    fresh = request.session.pop(FRESH, "")
    key = CalendarKey.objects.filter(school=school, user=request.user, revoked_at=None).first()
    address = origin_of(request) + reverse("calendar-feed", args=(fresh,)) if fresh else ""
    return render(request, "loans/calendar.html", {"key": key, "address": address})


def _make(request: SeatedRequest) -> None:
    request.session[FRESH] = make_key(school=request.seat.school, user=request.user, at=request.now)


def _revoke(request: SeatedRequest) -> None:
    revoke(school=request.seat.school, user=request.user, at=request.now)
    messages.success(request, "The address is revoked. Calendars that used it get nothing any more.")


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    now = timezone.now()
    key = key_of(secret)
    if key is None:
        raise Http404("No such calendar.")
    note_read(key=key, today=timezone.localdate(now))
    answer = HttpResponse(due_dates(key.school, now, origin_of(request)), content_type="text/calendar; charset=utf-8")
    answer.headers["Cache-Control"] = "private, max-age=900"
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
