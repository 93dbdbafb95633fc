"""Keeping when a school's letters go out and what they say."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.letters.models import LendingRules
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved


@transaction.atomic
def keep_rules(*, school: School, said: Mapping[str, Any], by: User, at: datetime) -> LendingRules:
    """Writes the school's rules; `said` names fields of `LendingRules`, those it leaves out stay."""
    before = LendingRules.objects.filter(school=school).first() or LendingRules(school=school)
    if told := moved(before, said):
        record(deed=Deed.LETTERS_CHANGED, school=school, by=by, at=at, told=told)
    rules, _ = LendingRules.objects.update_or_create(school=school, defaults=said)
    return rules
