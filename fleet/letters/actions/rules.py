"""Keeping when a school's letters go out and what they say."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from fleet.letters.models import LendingRules
from fleet.people.models import School, User


def keep_rules(*, school: School, said: Mapping[str, Any], by: User, at: datetime) -> LendingRules:
    """Writes the school's rules; `said` names fields of `LendingRules`, those it leaves out stay."""
    rules, _ = LendingRules.objects.update_or_create(school=school, defaults=said)
    return rules
