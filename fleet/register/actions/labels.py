"""How a school's label sheets are cut."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.people.models import School, User
from fleet.register.models import LabelSheet


@transaction.atomic
def keep_label_sheet(*, school: School, sizes: Mapping[str, Any], by: User, at: datetime) -> LabelSheet:
    """The school's own sheet from now on, by column, lengths in millimetres."""
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    sheet, _ = LabelSheet.objects.update_or_create(school=school, defaults=sizes)
    return sheet
