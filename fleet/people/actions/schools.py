"""A school's settings."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.people.models import School, User


@transaction.atomic
def change_settings(*, school: School, settings: Mapping[str, Any], by: User, at: datetime) -> School:
    """Writes a school's settings by column, values as its form gives them."""
    now = School.objects.select_for_update(no_key=True).get(pk=school.pk)
    for name, value in settings.items():
        setattr(now, name, value)
    now.save(update_fields=list(settings))
    return now
