"""Keeping a school's weights and the plans of its classes."""

from __future__ import annotations

from django.db import transaction

from fleet.matching.forms import ClassPlanForm
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.wishes import plans_of
from fleet.matching.solving.rows import Weights
from fleet.people.models import School


@transaction.atomic
def keep_rules(*, school: School, weights: Weights, plans: list[ClassPlanForm]) -> None:
    """Writes a school's weights, and the plans of the classes that were shown."""
    School.objects.select_for_update().get(pk=school.pk)
    MatchingRules.objects.update_or_create(school=school, defaults=weights.as_dict())
    known = plans_of(school)
    for form in plans:
        plan = known.get(form.group.casefold()) or ClassPlan(school=school, group=form.group)
        plan.stands_in, plan.room = form.cleaned_data["stands_in"], form.cleaned_data["room"]
        if plan.pk or plan.stands_in or plan.room:
            plan.save()
            known[form.group.casefold()] = plan
