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
def make_key(*, school: School, user: User, at: datetime, for_family: bool = False) -> str:
    """A new secret for this person, who has one at a time: the one before it is revoked."""
    User.objects.select_for_update().get(pk=user.pk)
    revoke(school=school, user=user, at=at, for_family=for_family)
    secret = secrets.token_urlsafe(20)
    digest = digest_of(secret)
    CalendarKey.objects.create(school=school, user=user, for_family=for_family, digest=digest, made_at=at)
    record(deed=Deed.CALENDAR_MADE, school=school, by=user, at=at)
    return secret


@transaction.atomic
def revoke(*, school: School, user: User, at: datetime, for_family: bool = False) -> None:
    keys = CalendarKey.objects.filter(school=school, user=user, for_family=for_family)
    if keys.filter(revoked_at=None).update(revoked_at=at):
        record(deed=Deed.CALENDAR_REVOKED, school=school, by=user, at=at)


def note_read(*, key: CalendarKey, today: date) -> None:
    """A calendar program read the address today. Once a day, since some ask every few minutes."""
    if key.read_on != today:
        CalendarKey.objects.filter(pk=key.pk).update(read_on=today)
