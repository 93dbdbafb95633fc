"""What the bench's actions share: a job opened, a fault marked mended."""

from __future__ import annotations

from datetime import datetime

from fleet.ground.refusal import Refused, WayOut
from fleet.people.models import User
from fleet.register.models import Horn
from fleet.workshop.models import Finding, JobStep, RepairJob


def still_kept(horn: Horn) -> None:
    if horn.withdrawn_on is not None:
        raise Refused(f"{horn} is withdrawn.", way_out=WayOut("register:standing", "Keep it again", (horn.pk,)))


def opened(
    horn: Horn,
    by: User,
    at: datetime,
    *,
    words: str,
    technician: User | None = None,
    minutes: int | None = None,
    notes: str = "",
) -> RepairJob:
    still_kept(horn)
    job = RepairJob.objects.create(
        horn=horn, opened_by=by, opened_at=at, technician=technician, minutes=minutes, notes=notes
    )
    JobStep.objects.create(job=job, at=at, by=by, state=job.state, words=words)
    return job


def mend(horn: Horn, faults: set[str], at: datetime) -> None:
    """Marks these faults mended on every check of the horn that had them. The caller keeps the horn."""
    if faults:
        Finding.objects.filter(check_made__horn=horn, mended_at=None, fault__in=faults).update(mended_at=at)
