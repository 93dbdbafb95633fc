"""Pupils amended, with the horns that carry their names and classes: a new one moves a horn, so it is an action like
any other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.people.actions import many
from fleet.people.models import Opening, Pupil, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.locking import locked_all
from fleet.register.models import Horn

# What a horn tells of the pupil who has it.
CARRIED = {"name", "group"}


@transaction.atomic
def amend(*, pupil: Pupil, changes: Mapping[str, Any], by: User, at: datetime) -> Pupil:
    """Writes what differs from the pupil's row and returns it as it is now, the horns that carry the name with it.

    The horns are locked first and the pupil after them, as in every action about a loan: a return at the same moment
    comes before and leaves nothing to carry, or waits and takes the new name away with it.
    """
    hold_horns_of([pupil.pk])
    now = held(pupil)
    changed = {name: value for name, value in changes.items() if getattr(now, name) != value}
    if not changed:
        return now
    # With the pupil's row held no horn can come to carry the name any more.
    carrying = _carrying([now.pk]) if CARRIED & {*changed} else []
    record(deed=Deed.PUPIL_CHANGED, school=now.school, by=by, at=at, pupil=now, told=moved(now, changed))
    for name, value in changed.items():
        setattr(now, name, value)
    now.save(update_fields=list(changed))
    keep_all(carrying)
    return now


@transaction.atomic
def strike_out(*, pupil: Pupil, reason: str, by: User, at: datetime) -> Pupil:
    """A pupil who was entered by mistake leaves the lists; the id may be given to the right one. Refused where anything
    was done for them: then it was no mistake."""
    hold_horns_of([pupil.pk])
    now = held(pupil)
    if now.struck_out:
        raise Refused(f"{now} is struck out already.")
    for relation in Pupil._meta.related_objects:
        if not relation.one_to_many or relation.related_model is Opening:
            continue
        if relation.related_model._default_manager.filter(**{relation.field.name: now.pk}).exists():
            word = relation.related_model._meta.verbose_name
            raise Refused(f"{now} has a {word} on record, so this was no mistake. Say when they left instead.")
    now.struck_out, now.pupil_id, now.left_on = reason, "", now.left_on or timezone.localdate(at)
    now.save(update_fields=["struck_out", "pupil_id", "left_on"])
    record(deed=Deed.PUPIL_STRUCK_OUT, school=now.school, by=by, at=at, pupil=now, told=[["reason", reason]])
    return now


def held(pupil: Pupil) -> Pupil:
    """The pupil's row as it is now, held until the transaction ends. Refused when there is none any more."""
    now = Pupil.objects.select_for_update().filter(pk=pupil.pk).first()
    if now is None:
        raise Refused("This pupil is not on record any more: the list they came in with was undone.")
    return now


def amend_many(changes: Mapping[Pupil, Mapping[str, Any]]) -> None:
    """`amend` for the pupils of a list. The caller holds their horns (`hold_horns_of`) and then their rows."""
    carrying = _carrying([pupil.pk for pupil, changed in changes.items() if CARRIED & {*changed}])
    many.amend_many(changes)
    keep_all(carrying)


def hold_horns_of(pupils: Iterable[int]) -> None:
    """Locks the horns that carry these pupils' names, before the pupils' own rows are locked."""
    locked_all(_carrying(pupils))


def _carrying(pupils: Iterable[int]) -> list[int]:
    """Keys of the horns that these pupils have or are promised."""
    keys = list(pupils)
    mine = Pupil.objects.filter(pk__in=keys)
    out = Q(loans__pupil__in=keys, loans__returned_on=None)
    promised = Q(promised_to__in=list(mine.values_list("name", flat=True)), school__in=mine.values("school"))
    return list(Horn.objects.filter(out | promised).values_list("pk", flat=True).distinct())
