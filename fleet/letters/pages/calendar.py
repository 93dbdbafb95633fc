"""Due dates as a calendar (RFC 5545) that a calendar program reads under a secret address of its own.

A calendar program cannot sign in, so this door stands open and the secret is the key.
"""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _s
from django.views.decorators.http import require_safe

from fleet.ground.addresses import origin_of
from fleet.ground.answering import answer_elsewhere, one_of, sure
from fleet.letters.actions.calendar import make_key, note_read, revoke
from fleet.letters.models import CalendarKey
from fleet.letters.queries.calendar import dates_of, key_of
from fleet.people.queries.seats import SeatedRequest

FRESH = "calendar_secret"


def calendar(request: SeatedRequest) -> HttpResponse:
    """A person's own feed: whether there is one, a new address (shown once), and its end."""
    act = one_of(request, {"revoke": _revoke, "": _make}) or _page
    return act(request)


def _page(request: SeatedRequest) -> HttpResponse:
    fresh = request.session.pop(FRESH, "")
    keys = CalendarKey.objects.filter(school=request.seat.school, user=request.user, for_family=False)
    key = keys.filter(revoked_at=None).first()
    address = origin_of(request) + reverse("calendar-feed", args=(fresh,)) if fresh else ""
    return render(request, "loans/calendar.html", {"key": key, "address": address})


def _make(request: SeatedRequest) -> HttpResponse:
    request.session[FRESH] = make_key(school=request.seat.school, user=request.user, at=request.now)
    return redirect("loans:calendar", request.seat.school.slug)


def _revoke(request: SeatedRequest) -> HttpResponse:
    return answer_elsewhere(
        request,
        sure(request),
        lambda: revoke(school=request.seat.school, user=request.user, at=request.now),
        to=request.seat.here("loans:calendar"),
        said=_s("The address is revoked. Calendars that used it get nothing any more."),
    )


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    now = timezone.now()
    key = None if settings.SECURE_SSL_REDIRECT and not request.is_secure() else key_of(secret)
    if key is None:
        raise Http404("No such calendar.")
    note_read(key=key, today=timezone.localdate(now))
    answer = HttpResponse(dates_of(key, now, origin_of(request)), content_type="text/calendar; charset=utf-8")
    answer.headers["Cache-Control"] = "private, max-age=900"
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
