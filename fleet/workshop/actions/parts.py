"""Parts going into a job and back on the shelf. The shelf never holds fewer than none."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved
from fleet.register.actions.locking import locked
from fleet.workshop.actions.jobs import still_open
from fleet.workshop.actions.mending import step
from fleet.workshop.models import Part, PartUsed, RepairJob

MOST_PIECES = 1000
# What an act tells of a part.
TOLD = ("name", "on_hand", "minimum", "cost")


@transaction.atomic
def use_part(*, job: RepairJob, part: Part, count: int, by: User, at: datetime) -> PartUsed:
    """Takes pieces off the shelf into a job. Raises Refused when there are too few, and when the job is closed."""
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    part = Part.objects.select_for_update().get(pk=part.pk)
    if not 1 <= count <= MOST_PIECES:
        raise Refused("Use at least one piece, and no more than a thousand.")
    if part.on_hand < count:
        left = f"Only {part.on_hand} of {part} are left" if part.on_hand else f"No {part} is left"
        raise Refused(f"{left}: {count} cannot be used.")
    part.on_hand -= count
    part.save(update_fields=["on_hand"])
    step(job=job, words=f"used {count} × {part}", by=by, at=at)
    return PartUsed.objects.create(job=job, part=part, count=count, cost_each=part.cost, at=at, by=by)


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
                f"{now.on_hand} of {now} are on the shelf by now, not {was}: somebody used some. "
                "Count again, then save."
            )
        if part.on_hand == was:
            part.on_hand = now.on_hand
    told = moved(now, {name: getattr(part, name) for name in TOLD})
    part.save()
    if told:
        record(deed=Deed.PART_KEPT, school=part.school, by=by, at=at, told=[["part", str(part)], *told])
    return part
