"""Making and revoking the secret address of a calendar: 160 random bits, which no number of tries will guess."""

from __future__ import annotations

import secrets
from datetime import date, datetime

from django.db import transaction

from fleet.letters.models import CalendarKey
from fleet.letters.queries.calendar import digest_of
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed


@transaction.atomic
def make_key(*, school: School, user: User, at: datetime) -> str:
    """A new secret for this person, who has one at a time: the one before it is revoked."""
    User.objects.select_for_update().get(pk=user.pk)
    revoke(school=school, user=user, at=at)
    secret = secrets.token_urlsafe(20)
    CalendarKey.objects.create(school=school, user=user, digest=digest_of(secret), made_at=at)
    record(deed=Deed.CALENDAR_MADE, school=school, by=user, at=at)
    return secret


@transaction.atomic
def revoke(*, school: School, user: User, at: datetime) -> None:
    if CalendarKey.objects.filter(school=school, user=user, revoked_at=None).update(revoked_at=at):
        record(deed=Deed.CALENDAR_REVOKED, school=school, by=user, at=at)


def note_read(*, key: CalendarKey, today: date) -> None:
    """A calendar program read the address today. Once a day, since some ask every few minutes."""
    if key.read_on != today:
        CalendarKey.objects.filter(pk=key.pk).update(read_on=today)
