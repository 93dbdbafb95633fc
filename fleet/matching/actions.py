"""Keeping a school's weights and the plans of its classes, and what a class is called."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import amend_many, hold_horns_of
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.matching.queries.wishes import plans_of
from fleet.matching.solving.rows import Weights
from fleet.people.actions.schools import locked_school
from fleet.people.models import Pupil, School, User
from fleet.people.queries.classes import classes
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


@transaction.atomic
def rename_class(*, school: School, was: str, name: str, together: bool, by: User, at: datetime) -> int:
    """A class gets another name, with those who left it, their horns and its plan; returns how many are in it then.

    Where there is a class of that name the two become one, as long as `together` says so, and it cannot be undone; the
    plan of the other stays, filled where it says nothing.
    """
    locked_school(school.pk)
    keys = list(Pupil.objects.at(school).filter(group=was).values_list("pk", flat=True))
    hold_horns_of(keys)
    pupils = list(Pupil.objects.select_for_update().filter(pk__in=keys, group=was).order_by("pk"))
    if not pupils:
        raise Refused(_s("No class is called %(was)s any more.") % {"was": was})
    if not together and Pupil.objects.at(school).filter(group=name, left_on=None).exists():
        raise Refused(_s("There is a class %(name)s already. Say that both are one.") % {"name": name})
    amend_many({pupil: {"group": name} for pupil in pupils})
    then = dict(classes(school))
    plans = plans_of(school)
    plan, other = plans.get(was.casefold()), plans.get(name.casefold())
    # A class that differs by its capitals goes by the same plan.
    if plan and not any(one.casefold() == was.casefold() for one in then if one != name):
        if other is None or other == plan:
            plan.group = name
            plan.save()
        else:
            other.stands_in, other.room = other.stands_in or plan.stands_in, other.room or plan.room
            other.save()
            plan.delete()
    told = [["class", was, name], ["pupils", str(len(pupils))]]
    record(deed=Deed.CLASS_RENAMED, school=school, by=by, at=at, told=told)
    return then.get(name, 0)
