"""What is personal taken out of the record. The chain holds, and an act says which acts were emptied."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from django.db import models, transaction
from django.db.models import Q, QuerySet

from fleet.record.actions.recording import About, record_many
from fleet.record.actions.sealing import seal
from fleet.record.models import Act, Deed, Kind
from fleet.record.models.deeds import EMPTIED, EMPTYING
from fleet.record.queries.numbers import in_ranges

# How long names stand in the record: of acts, and of signing in. Common practice; no source gives a number of days.
KEPT = timedelta(days=3 * 365)
ENTRY_KEPT = timedelta(days=365)


@transaction.atomic
def empty(
    *,
    told: Q,
    named: Q,
    deed: Deed,
    by: models.Model | None,
    at: datetime,
    say: int | None = None,
    also: Sequence[Sequence[str]] = (),
) -> int:
    """Takes out what the acts `told` tell, and who did the acts `named`; returns how many acts that were.

    In each chain of theirs an act of that deed has their numbers, with `also` in that of the school `say`, which gets
    one in any case.
    """
    found = Act.objects.filter(told | named).order_by().values_list("school", flat=True).distinct()
    schools = sorted({*found, *([] if say is None else [say])}, key=lambda key: key or 0)
    total = 0
    for school in schools:
        # An act without a number could not be said to be emptied.
        seal(school=school)
        acts = Act.objects.of(school)
        tell = acts.filter(told).exclude(told="").exclude(deed__in=EMPTYING)
        name = acts.filter(named).exclude(by_name="")
        tells, names = dict(tell.values_list("pk", "number")), dict(name.values_list("pk", "number"))
        _without(tells, told="", told_salt="")
        _without(names, by_name="", by_salt="")
        both = tells | names
        total += len(both)
        lines: list[Sequence[str]] = [[EMPTIED, in_ranges(n for n in both.values() if n)]] if both else []
        if school == say:
            lines += also
        if lines or school == say:
            record_many(deed=deed, school=school, by=by, at=at, acts=[About(lines)])
    return total


def _without(acts: Collection[int], **nothing: str) -> None:
    keys = list(acts)
    for start in range(0, len(keys), 500):
        QuerySet[Act](Act).filter(pk__in=keys[start : start + 500]).update(**nothing)


def too_old(at: datetime) -> Q:
    """Acts whose names are kept no longer."""
    entry = Q(deed__startswith=f"{Kind.ENTRY}.")
    return Q(at__lt=at - KEPT) | (entry & Q(at__lt=at - ENTRY_KEPT))


def empty_old(*, at: datetime) -> int:
    """Takes names out of acts that are older than names are kept; returns how many there were."""
    return empty(told=too_old(at), named=too_old(at), deed=Deed.RECORD_EMPTIED, by=None, at=at)
