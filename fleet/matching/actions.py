"""Keeping a school's weights and the plans of its classes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.wishes import plans_of
from fleet.matching.solving.rows import Weights
from fleet.people.actions.schools import locked_school
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved


@transaction.atomic
def keep_rules(
    *, school: School, weights: Weights, plans: Mapping[str, tuple[str, str]], by: User, at: datetime
) -> None:
    """Writes a school's weights, and the plans of these classes: what each plays on (a stand) and where (a room)."""
    locked_school(school.pk)
    before = MatchingRules.objects.filter(school=school).first() or MatchingRules(school=school)
    if told := moved(before, weights.as_dict()):
        record(deed=Deed.MATCHING_CHANGED, school=school, by=by, at=at, told=told)
    MatchingRules.objects.update_or_create(school=school, defaults=weights.as_dict())
    known = plans_of(school)
    for group, (stand, room) in plans.items():
        plan = known.get(group.casefold()) or ClassPlan(school=school, group=group)
        plan.stands_in, plan.room = stand, room
        if plan.pk or plan.stands_in or plan.room:
            plan.save()
            known[group.casefold()] = plan
