"""Parts going into a job and back on the shelf. The shelf never holds fewer than none; what can be worked on hangs on
what lies there, so whatever moves it has the turns kept of all jobs that want it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved
from fleet.register.actions.locking import TWICE_WITHIN, locked
from fleet.workshop.actions.jobs import still_open
from fleet.workshop.actions.mending import keep_turns_wanting, step
from fleet.workshop.models import Part, PartUsed, RepairJob

MOST_PIECES = 1000
# What an act tells of a part.
TOLD = ("name", "on_hand", "minimum", "cost", "supplier", "order_number", "shelf", "ordered_on", "arrived_on")


@transaction.atomic
def use_part(*, job: RepairJob, part: Part, count: int, by: User, at: datetime) -> PartUsed:
    """Takes pieces off the shelf into a job; pressed twice, they are taken once. Raises Refused when there are too few,
    and when the job is closed."""
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    just_now = PartUsed.objects.filter(job=job, part=part, count=count, by=by, at__range=(at - TWICE_WITHIN, at))
    if (there := just_now.first()) is not None:
        return there
    part = Part.objects.select_for_update().get(pk=part.pk)
    if not 1 <= count <= MOST_PIECES:
        raise Refused(_s("Use at least one piece, and no more than a thousand."))
    if part.on_hand < count:
        said = {"part": part, "left": part.on_hand, "count": count}
        if not part.on_hand:
            raise Refused(_s("No %(part)s is left: %(count)s cannot be used.") % said)
        raise Refused(_s("Only %(left)s of %(part)s are left: %(count)s cannot be used.") % said)
    part.on_hand -= count
    part.save(update_fields=["on_hand"])
    step(job=job, words=f"used {count} × {part}", by=by, at=at)
    used = PartUsed.objects.create(job=job, part=part, count=count, cost_each=part.cost, at=at, by=by)
    keep_turns_wanting(part.mends, school=part.school_id)
    return used


@transaction.atomic
def put_back(*, job: RepairJob, used: int, by: User, at: datetime) -> None:
    """Puts the pieces of one entry of a job back on the shelf; an entry put back already is left at that.

    Raises Refused when the job is closed.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    entry = PartUsed.objects.filter(job=job, pk=used).first()
    if entry is None:
        return
    part = Part.objects.select_for_update().get(pk=entry.part_id)
    part.on_hand += entry.count
    part.save(update_fields=["on_hand"])
    step(job=job, words=f"put back {entry.count} × {part}", by=by, at=at)
    entry.delete()
    keep_turns_wanting(part.mends, school=part.school_id)


@transaction.atomic
def save_part(*, part: Part, was: int | None, by: User, at: datetime) -> Part:
    """Keeps a part as it stands in the form. `was` is the number of pieces the page showed, None for a new part.

    Raises Refused when pieces were used or put back since.
    """
    now = Part()
    if part.pk is not None:
        now = Part.objects.select_for_update().get(pk=part.pk)
        if part.on_hand != was and now.on_hand != was:
            raise Refused(
                _s(
                    "%(on_hand)s of %(now)s are on the shelf by now, not %(was)s: somebody used some. Count "
                    "again, then save."
                )
                % {"on_hand": now.on_hand, "now": now, "was": was}
            )
        if part.on_hand == was:
            part.on_hand = now.on_hand
    told = moved(now, {name: getattr(part, name) for name in TOLD})
    part.save()
    before, since = {*now.mends}, {*part.mends}
    # Where as many lie there as before, only what it began or ceased to mend.
    keep_turns_wanting(before ^ since if part.on_hand == now.on_hand else before | since, school=part.school_id)
    if told:
        record(deed=Deed.PART_KEPT, school=part.school, by=by, at=at, told=[["part", str(part)], *told])
    return part


@transaction.atomic
def order_parts(*, parts: Iterable[int], school: School, by: User, at: datetime) -> int:
    """These parts of the school are ordered today; gives how many. What is on its way already is left at that."""
    there = Part.objects.select_for_update().at(school).filter(pk__in=list(parts)).order_by("pk")
    ordered = [part for part in there if not part.is_coming]
    for part in ordered:
        _change(part, by, at, ordered_on=timezone.localdate(at), arrived_on=None)
    return len(ordered)


@transaction.atomic
def part_arrived(*, part: Part, count: int, by: User, at: datetime) -> Part:
    """So many pieces of what was ordered have come. Raises Refused when none are on their way."""
    part = Part.objects.select_for_update().get(pk=part.pk)
    if not part.is_coming:
        raise Refused(_s("No %(part)s is on its way: somebody has noted that it came.") % {"part": part})
    part = _change(part, by, at, on_hand=part.on_hand + count, arrived_on=timezone.localdate(at))
    keep_turns_wanting(part.mends, school=part.school_id)
    return part


@transaction.atomic
def count_parts(
    *, school: School, counted: Mapping[int, tuple[int, int]], by: User, at: datetime
) -> list[tuple[Part, int]]:
    """A stock-take: by key of a part what the page showed and what lies there. Gives the parts that differ, each with
    what was on record.

    Raises Refused when pieces of a part were used or put back since the page was made; nothing is kept then.
    """
    differ = []
    for part in Part.objects.select_for_update().at(school).filter(pk__in=counted).order_by("pk"):
        was, now = counted[part.pk]
        if now == part.on_hand:
            continue
        if part.on_hand != was:
            raise Refused(
                _s("%(on_hand)s of %(part)s are on record by now, not %(was)s: count it again, then save.")
                % {"on_hand": part.on_hand, "part": part, "was": was}
            )
        differ.append((_change(part, by, at, on_hand=now), was))
    keep_turns_wanting({fault for part, _ in differ for fault in part.mends}, school=school.pk)
    return differ


def _change(part: Part, by: User, at: datetime, **to: object) -> Part:
    told = moved(part, to)
    for name, value in to.items():
        setattr(part, name, value)
    part.save(update_fields=list(to))
    record(deed=Deed.PART_KEPT, school=part.school, by=by, at=at, told=[["part", str(part)], *told])
    return part
