"""The weights and the plans that a matching goes by."""

from __future__ import annotations

from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.solving.rows import Weights
from fleet.people.models import School


def weights_of(school: School) -> Weights:
    """The weights the school has kept, or the usual ones. One query."""
    kept = MatchingRules.objects.filter(school=school).first()
    return kept.weights if kept is not None else Weights()


def plans_of(school: School) -> dict[str, ClassPlan]:
    """The plans by their class in small letters. One query."""
    return {plan.group.casefold(): plan for plan in ClassPlan.objects.filter(school=school)}
