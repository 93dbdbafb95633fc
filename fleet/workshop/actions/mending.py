"""What the bench's actions share: a job opened and kept in its turn, a fault marked mended, a clock stopped."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db.models import Sum
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.models import Horn
from fleet.workshop.models import Finding, JobStep, RepairJob, Sitting
from fleet.workshop.queries.in_turn import jobs_of, kept_otherwise


def still_kept(horn: Horn) -> None:
    if horn.withdrawn_on is not None:
        raise Refused(_s("%(horn)s is withdrawn.") % {"horn": horn}, way_out=horn.way_back)


def still_away(job: RepairJob) -> Refused:
    return Refused(
        _s("%(horn)s is at the repairer’s. Say first when it came back.") % {"horn": job.horn},
        way_out=WayOut("workshop:job-outside", _s("Say when it came back"), (job.pk,)),
    )


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
    job = RepairJob.objects.create(school_id=horn.school_id, horn=horn, opened_by=by, opened_at=at, **said)
    step(job=job, words=words, deed=Deed.JOB_OPENED, by=by, at=at)
    return job


def keep_turns(horns: Sequence[int]) -> None:
    """Writes what open jobs of these horns, and of those whose pupils play one of these meanwhile, keep of their turns;
    only what differs. The one writer calls it (`KEEP_WITH_HORNS`), while it holds the horns' rows."""
    if jobs := jobs_of(horns):
        _keep_turns(jobs)


def keep_turns_wanting(faults: Collection[str], *, school: int) -> None:
    """The same for the jobs that want a part by which one of these faults is mended, after the stock has changed. The
    caller holds the part's row.

    A job that comes to want it while its last piece is being taken has its turn by night.
    """
    if not faults:
        return
    wanted = RepairJob.objects.open().filter(school=school).values_list("pk", "wants")
    _keep_turns([key for key, wants in wanted if any(fault in faults for fault, _ in wants)])


def _keep_turns(jobs: Sequence[int]) -> None:
    """Held one after another are horns, parts, jobs: so nobody waits for ever, and what is read here is as new as what
    another has just written of the same job."""
    held = RepairJob.objects.select_for_update(no_key=True).open().filter(pk__in=jobs).order_by("pk")
    for job, rank, wants in kept_otherwise(held.values_list("pk", flat=True)):
        RepairJob.objects.filter(pk=job.pk).update(turn=rank, wants=wants)


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


def end_sitting(sitting: Sitting, at: datetime, minutes: int | None) -> None:
    """The clock stops; `minutes` counts instead of what it says."""
    sitting.minutes = round(sitting.lasted(at).total_seconds() / 60) if minutes is None else minutes
    sitting.ended_at = max(at, sitting.began_at)
    sitting.save(update_fields=["minutes", "ended_at"])


def stop_all(job: RepairJob, at: datetime) -> int:
    """Every clock on a job that closes; gives the minutes of all. A forgotten one counts for nothing: nobody is there
    to say."""
    for running in job.sittings.filter(ended_at=None):
        end_sitting(running, at, 0 if running.was_forgotten(at) else None)
    return job.sittings.aggregate(sum=Sum("minutes"))["sum"] or 0
