"""How a school's label sheets are cut."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved
from fleet.register.models import LabelSheet


@transaction.atomic
def keep_label_sheet(*, school: School, sizes: Mapping[str, Any], by: User, at: datetime) -> LabelSheet:
    """The school's own sheet from now on, by column, lengths in millimetres."""
    locked_school(school.pk)
    before = LabelSheet.objects.filter(school=school).first() or LabelSheet(school=school)
    if told := moved(before, sizes):
        record(deed=Deed.LABELS_CHANGED, school=school, by=by, at=at, told=told)
    sheet, _ = LabelSheet.objects.update_or_create(school=school, defaults=sizes)
    return sheet
