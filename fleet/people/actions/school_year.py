"""Holidays written down, changed and removed."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import Holiday, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved


@transaction.atomic
def keep_holiday(*, holiday: Holiday, name: str, first: date, last: date, by: User, at: datetime) -> Holiday:
    """Writes a new or a changed holiday down. Refused when it was removed meanwhile."""
    now = _held(holiday) if holiday.pk else Holiday(school=holiday.school)
    said = {"name": name, "first": first, "last": last}
    if told := moved(now, said):
        for column, value in said.items():
            setattr(now, column, value)
        now.save()
        record(deed=Deed.HOLIDAY_KEPT, school=now.school, by=by, at=at, told=[["holiday", name], *told])
    return now


@transaction.atomic
def remove_holiday(*, holiday: Holiday, by: User, at: datetime) -> str:
    """Removes it and returns its name. Loans keep the day on which they are due."""
    now = _held(holiday)
    record(deed=Deed.HOLIDAY_REMOVED, school=now.school, by=by, at=at, told=[["holiday", now.name]])
    now.delete()
    return now.name


def _held(holiday: Holiday) -> Holiday:
    now = Holiday.objects.select_for_update(of=("self",)).select_related("school").filter(pk=holiday.pk).first()
    if now is None:
        raise Refused(_s("This holiday was removed meanwhile."))
    return now
