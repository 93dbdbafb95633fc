"""Noting the care of horns."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.record.actions.recording import About, record_many
from fleet.record.models import Deed
from fleet.record.queries.telling import in_english
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn
from fleet.workshop.models import Care
from fleet.workshop.models.care import Kind


@transaction.atomic
def care_for(
    *, horns: Iterable[int], kind: Kind, school: School, by: User, at: datetime, on: date | None = None
) -> int:
    """Notes the care of these horns of the school; gives how many. Withdrawn ones and strangers are left out.

    `on` is the day it was done where that was before today. Raises Refused for a day to come.
    """
    today = timezone.localdate(at)
    day = on or today
    if day > today:
        raise Refused(_s("This day is still to come."))
    there = list(
        Horn.objects.select_for_update(no_key=True).at(school).kept().filter(pk__in=list(horns)).order_by("pk")
    )
    Care.objects.bulk_create(
        [Care(horn=horn, kind=kind, on=day, by=by) for horn in there], ignore_conflicts=True, batch_size=200
    )
    keep(there)
    return len(there)


@transaction.atomic
def take_back_care(*, of: int | Kind, school: School, by: User, at: datetime) -> int:
    """Takes back one record by its key, or all of a kind that this person noted today; gives how many went.

    What is gone already is left at that.
    """
    noted = Care.objects.filter(horn__school=school)
    noted = noted.filter(kind=of, on=timezone.localdate(at), by=by) if isinstance(of, Kind) else noted.filter(pk=of)
    gone = list(noted.select_for_update(of=("self",)).select_related("horn", "by").order_by("horn", "pk"))
    Care.objects.filter(pk__in=[one.pk for one in gone]).delete()
    acts = [About([["care", f"{in_english(one)}, by {one.by}"]], horn=one.horn) for one in gone]
    record_many(deed=Deed.CARE_TAKEN_BACK, school=school.pk, by=by, at=at, acts=acts)
    keep(one.horn for one in gone)
    return len(gone)
