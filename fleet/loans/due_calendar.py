"""Due dates as a calendar (RFC 5545) that a calendar program reads under a secret address of its own.

A calendar program cannot sign in, so this door stands open and the secret is the key: 160 random bits, which no
number of tries will guess, kept here as a hash only. The feed names horns and dates, never pupils, since
calendars are often kept with companies the school has no agreement with.
"""

from __future__ import annotations

import hmac
import secrets
from datetime import datetime, timedelta
from hashlib import sha256

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe
from icalendar import Calendar, Event

from fleet.access import SeatedRequest
from fleet.loans.models import CalendarKey, Loan
from fleet.origin import origin_of
from fleet.people.models import Post, School, User

FRESH = "calendar_secret"


def calendar(request: SeatedRequest) -> HttpResponse:
    """A person's own feed: whether there is one, a new address (shown once), and its end."""
    school = request.seat.school
    if request.method == "POST":
        if request.POST.get("do") == "revoke":
            revoke(school=school, user=request.user, at=request.now)
            messages.success(request, "The address is revoked. Calendars that used it get nothing any more.")
        else:
            request.session[FRESH] = make_key(school=school, user=request.user, at=request.now)
        return redirect("loans:calendar", school.slug)
    fresh = request.session.pop(FRESH, "")
    key = CalendarKey.objects.filter(school=school, user=request.user, revoked_at=None).first()
    address = origin_of(request) + reverse("calendar-feed", args=(fresh,)) if fresh else ""
    return render(request, "loans/calendar.html", {"key": key, "address": address})


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    now = timezone.now()
    key = key_of(secret)
    if key is None:
        raise Http404("No such calendar.")
    today = timezone.localdate(now)
    if key.read_on != today:
        CalendarKey.objects.filter(pk=key.pk).update(read_on=today)
    answer = HttpResponse(due_dates(key.school, now, origin_of(request)), content_type="text/calendar; charset=utf-8")
    answer.headers["Cache-Control"] = "private, max-age=900"
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer


@transaction.atomic
def make_key(*, school: School, user: User, at: datetime) -> str:
    """A new secret for this person, who has one at a time: the one before it is revoked."""
    User.objects.select_for_update().get(pk=user.pk)
    revoke(school=school, user=user, at=at)
    secret = secrets.token_urlsafe(20)
    CalendarKey.objects.create(school=school, user=user, digest=digest_of(secret), made_at=at)
    return secret


def revoke(*, school: School, user: User, at: datetime) -> None:
    CalendarKey.objects.filter(school=school, user=user, revoked_at=None).update(revoked_at=at)


def key_of(secret: str) -> CalendarKey | None:
    """The key that this secret opens, while its person still has a post at the school. Two queries at most."""
    digest = digest_of(secret)
    key = CalendarKey.objects.select_related("school", "user").filter(digest=digest, revoked_at=None).first()
    # The look-up goes by the hash, which tells nothing of the secret by how long it takes; nor does this.
    if key is None or not hmac.compare_digest(key.digest, digest) or not key.user.is_active:
        return None
    return key if Post.objects.filter(school=key.school, user=key.user).exists() else None


def digest_of(secret: str) -> str:
    """A plain hash is enough for a secret of 160 random bits: there is nothing to try out."""
    return sha256(secret.encode()).hexdigest()


def due_dates(school: School, now: datetime, origin: str) -> bytes:
    """The due dates of all open loans as an iCalendar file. Two queries."""
    file = Calendar()
    file.add("prodid", "-//Horn Cupboard//due dates//EN")
    file.add("version", "2.0")
    file.add("method", "PUBLISH")
    file.add("name", f"Horns due, {school.name}")
    file.add("x-wr-calname", f"Horns due, {school.name}")
    domain = origin.partition("://")[2].partition(":")[0] or "horns.invalid"
    loans = Loan.objects.at(school).open().select_related("horn").prefetch_related("periods")
    for loan in loans.order_by("due_on", "pk"):
        event = Event()
        event.add("uid", f"loan-{loan.pk}@{domain}")
        event.add("dtstamp", now)
        event.add("dtstart", loan.due_on)
        event.add("dtend", loan.due_on + timedelta(days=1))
        event.add("summary", f"{loan.horn.number} is due back")
        event.add("description", f"{loan.horn.kind or 'horn'}. Who has it is on the loan’s page.")
        event.add("url", origin + reverse("loans:loan", args=(school.slug, loan.pk)))
        event.add("transp", "TRANSPARENT")
        event.add("sequence", len(loan.periods.all()))
        file.add_component(event)
    return file.to_ical()
