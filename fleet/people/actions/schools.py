"""A school's settings."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from django.conf import settings as site
from django.db import transaction
from django.utils.module_loading import import_string
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
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


@transaction.atomic
def change_sign_in(*, school: School, issuer: str, came_by: Collection[str], by: User | None, at: datetime) -> None:
    """Has the school's staff come in with the accounts of this issuer alone; of none, as they like.

    Raises Refused unless whoever asks for it came in so themselves: it works, and nobody locks themselves out.
    """
    now = locked_school(school.pk)
    told = moved(now, {"sign_in_by": issuer})
    if not told:
        return
    if issuer and issuer not in came_by:
        raise Refused(_s("First come in with it once yourself: then it is sure to work."), field="sign_in_by")
    now.sign_in_by = issuer
    now.save(update_fields=["sign_in_by"])
    record(deed=Deed.SIGN_IN_CHANGED, school=now, by=by, at=at, told=told)
