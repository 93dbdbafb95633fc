"""A school's settings."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.conf import settings as site
from django.db import transaction
from django.utils.module_loading import import_string

from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved


def locked_school(key: int) -> School:
    """The school's row, held until the transaction ends: whoever else writes what a school has one of, or gives out
    its numbers, waits here. Horns may be written meanwhile."""
    return School.objects.select_for_update(no_key=True).get(pk=key)


@transaction.atomic
def change_settings(*, school: School, settings: Mapping[str, Any], by: User, at: datetime) -> School:
    """Writes a school's settings by column, values as its form gives them."""
    now = locked_school(school.pk)
    told, zone = moved(now, settings), now.time_zone
    for name, value in settings.items():
        setattr(now, name, value)
    now.save(update_fields=list(settings))
    if now.time_zone != zone:
        # The days kept on its horns are of its zone, and stand above people.
        import_string(site.KEEP_SCHOOL)(now.pk)
    if told:
        record(deed=Deed.SCHOOL_CHANGED, school=now, by=by, at=at, told=told)
    return now
