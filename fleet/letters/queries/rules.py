"""The rules a school's letters go by."""

from __future__ import annotations

from fleet.letters.models import LendingRules
from fleet.people.models import School


def rules_of(school: School) -> LendingRules:
    """The school's own rules or the defaults, unsaved. One query."""
    return LendingRules.objects.filter(school=school).first() or LendingRules(school=school)
