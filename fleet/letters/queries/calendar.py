"""Whose calendar a secret opens, and what stands in it.

Only a hash of the secret is kept. The feed names horns and dates, never pupils, since calendars are often kept
with companies the school has no agreement with.
"""

from __future__ import annotations

import hmac
from datetime import datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.lending.models import Loan, LoanQuerySet
from fleet.letters.models import CalendarKey
from fleet.people.models import Guardian, Post, School
from fleet.people.queries.own_words import speaking

if TYPE_CHECKING:
    from icalendar import Calendar, Event


def key_of(secret: str) -> CalendarKey | None:
    """The key that this secret opens, while its person still has a post at the school, or a child. Two queries at
    most."""
    digest = digest_of(secret)
    key = CalendarKey.objects.select_related("school", "user").filter(digest=digest, revoked_at=None).first()
    # The look-up goes by the hash, which tells nothing of the secret by how long it takes; nor does this.
    if key is None or not hmac.compare_digest(key.digest, digest) or not key.user.is_active:
        return None
    here: type[Guardian | Post] = Guardian if key.for_family else Post
    return key if here._default_manager.filter(school=key.school, user=key.user).exists() else None


def digest_of(secret: str) -> str:
    """A plain hash is enough for a secret of 160 random bits: there is nothing to try out."""
    return sha256(secret.encode()).hexdigest()


def dates_of(key: CalendarKey, now: datetime, origin: str) -> bytes:
    """What stands under the address of this key: for a family in its language, and in its school's words."""
    if not key.for_family:
        return due_dates(key.school, now, origin)
    guardian = Guardian.objects.select_related("school").filter(user=key.user, school=key.school).earliest("pk")
    with speaking(key.school, guardian.speaks):
        return due_dates_of(Loan.objects.answered_for_by(key.user).at(key.school).open(), now, origin)


def due_dates(school: School, now: datetime, origin: str) -> bytes:
    """The due dates of all loans whose horns are still to come back, as an iCalendar file. Two queries."""
    file = _begun(_s("Horns due, %(school)s") % {"school": school.name})
    loans = Loan.objects.at(school).awaited().select_related("horn").prefetch_related("periods")
    for loan in loans.order_by("due_on", "pk"):
        page = reverse("loans:loan", args=(school.slug, loan.pk))
        event = _event(loan, now, origin, _s("%(number)s is due back") % {"number": loan.horn.number}, page)
        event.add("description", f"{loan.horn.kind or 'horn'}. Who has it is on the loan’s page.")
        file.add_component(event)
    return bytes(file.to_ical())


def due_dates_of(loans: LoanQuerySet, now: datetime, origin: str) -> bytes:
    """The due dates of a family's loans, in the language spoken now."""
    file = _begun(gettext("Your children’s horns"))
    for loan in loans.select_related("horn").prefetch_related("periods").order_by("due_on", "pk"):
        summary = gettext("%(horn)s is due back") % {"horn": loan.horn.number}
        file.add_component(_event(loan, now, origin, summary, reverse("desk:family-horn", args=(loan.pk,))))
    return bytes(file.to_ical())


def _begun(name: str) -> Calendar:
    from icalendar import Calendar

    file = Calendar()
    file.add("prodid", "-//Horn Cupboard//due dates//EN")
    file.add("version", "2.0")
    file.add("method", "PUBLISH")
    file.add("name", name)
    file.add("x-wr-calname", name)
    return file


def _event(loan: Loan, now: datetime, origin: str, summary: str, page: str) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", f"loan-{loan.pk}@{urlsplit(origin).hostname}")
    event.add("dtstamp", now)
    event.add("dtstart", loan.due_on)
    event.add("dtend", loan.due_on + timedelta(days=1))
    event.add("summary", summary)
    event.add("url", origin + page)
    event.add("transp", "TRANSPARENT")
    event.add("sequence", len(loan.periods.all()))
    return event
