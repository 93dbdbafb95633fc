"""Keeping when a school's letters go out and what they say."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fleet.letters.models import LendingRules
from fleet.people.models import School


def keep_rules(*, school: School, said: Mapping[str, Any]) -> LendingRules:
    """Writes the school's rules; `said` names fields of `LendingRules`, those it leaves out stay."""
    rules, _ = LendingRules.objects.update_or_create(school=school, defaults=said)
    return rules
