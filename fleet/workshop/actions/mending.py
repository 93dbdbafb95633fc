"""What the bench's actions share: a job opened, a fault marked mended."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.models import Horn
from fleet.workshop.models import Finding, JobStep, RepairJob


def still_kept(horn: Horn) -> None:
    if horn.withdrawn_on is not None:
        raise Refused(f"{horn} is withdrawn.", way_out=horn.way_back)


def opened(
    horn: Horn,
    by: User,
    at: datetime,
    *,
    words: str,
    technician: User | None = None,
    minutes: int | None = None,
    work_ordered: str = "",
    notes: str = "",
) -> RepairJob:
    still_kept(horn)
    said = {"technician": technician, "minutes": minutes, "work_ordered": work_ordered, "notes": notes}
    job = RepairJob.objects.create(horn=horn, opened_by=by, opened_at=at, **said)
    step(job=job, words=words, deed=Deed.JOB_OPENED, by=by, at=at)
    return job


def step(
    *,
    job: RepairJob,
    words: str,
    told: Sequence[Sequence[str]] = (),
    deed: Deed = Deed.JOB_CHANGED,
    by: User,
    at: datetime,
) -> None:
    """One change of a job, in words for the next reader; on the record with `told`, from what to what."""
    JobStep.objects.create(job=job, at=at, by=by, state=job.state, words=words[:500])
    record(deed=deed, school=job.horn.school, by=by, at=at, horn=job.horn, told=[["job", words], *told])


def mend(horn: Horn, faults: set[str], at: datetime) -> None:
    """Marks these faults mended on every check of the horn that had them. The caller keeps the horn."""
    if faults:
        Finding.objects.filter(check_made__horn=horn, mended_at=None, fault__in=faults).update(mended_at=at)
