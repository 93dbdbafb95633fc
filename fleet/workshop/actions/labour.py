"""Work ordered on a job, a school's labour prices, and the clock that runs while somebody works."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import moved
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.workshop.actions.jobs import still_open
from fleet.workshop.actions.mending import end_sitting, step
from fleet.workshop.models import LabourPrice, RepairJob, Sitting, WorkOrdered
from fleet.workshop.models.works import work as known
from fleet.workshop.queries.agreed import reckoned


@transaction.atomic
def order_work(*, job: RepairJob, work: str, by: User, at: datetime) -> None:
    """Orders a work for what the school reckons now; ordered twice, it is there once. Raises Refused when the job is
    closed."""
    horn = locked(job.horn)
    job = RepairJob.objects.select_related("horn__school").get(pk=job.pk)
    still_open(job)
    if not job.works.filter(work=work).exists():
        minutes, price = reckoned(job.horn.school)[work]
        WorkOrdered.objects.create(job=job, work=work, minutes=minutes, price=price, at=at, by=by)
        step(job=job, words=f"{known(work).words} ordered", by=by, at=at)
        keep([horn])


@transaction.atomic
def drop_work(*, job: RepairJob, work: str, by: User, at: datetime) -> None:
    """Takes a work off the job; one that is gone is left at that. Raises Refused when the job is closed."""
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    if job.works.filter(work=work).delete()[0]:
        step(job=job, words=f"{known(work).words} not ordered any more", by=by, at=at)
        keep([horn])


@transaction.atomic
def set_prices(
    *, school: School, prices: Mapping[str, tuple[int | None, Decimal | None]], by: User, at: datetime
) -> int:
    """Keeps minutes and price of each work named; empty both, the catalogue's hold again. Gives how many changed.

    Work that is ordered already keeps what stood then.
    """
    School.objects.select_for_update(no_key=True).get(pk=school.pk)
    there = {one.work: one for one in school.labour_prices.all()}
    changed = 0
    for code, (minutes, price) in prices.items():
        row = there.get(code) or LabourPrice(school=school, work=code)
        told = moved(row, {"minutes": minutes, "price": price})
        if not told:
            continue
        row.minutes, row.price = minutes, price
        if minutes is None and price is None:
            row.delete()
        else:
            row.save()
        record(deed=Deed.LABOUR_PRICED, school=school, by=by, at=at, told=[["work", known(code).words], *told])
        changed += 1
    return changed


@transaction.atomic
def start_clock(*, job: RepairJob, by: User, at: datetime) -> Sitting | None:
    """The clock runs for this person on this job; one that ran on another of their jobs stops, and is given back where
    it was forgotten, so that nothing of it counts. Pressed twice, it runs once. Raises Refused when the job is closed.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    User.objects.select_for_update(no_key=True).get(pk=by.pk)
    running = Sitting.objects.filter(by=by, ended_at=None).select_related("job__horn").first()
    if running is not None and running.job_id == job.pk:
        return None
    forgotten = running if running is not None and running.was_forgotten(at) else None
    if running is not None:
        end_sitting(running, at, 0 if forgotten else None)
    Sitting.objects.create(job=job, by=by, began_at=at)
    return forgotten


@transaction.atomic
def stop_clock(*, job: RepairJob, by: User, at: datetime, minutes: int | None = None) -> None:
    """Stops this person's clock on this job; one that was stopped is left at that. `minutes` counts instead of what
    the clock says, and must be said where it was forgotten."""
    User.objects.select_for_update(no_key=True).get(pk=by.pk)
    running = job.sittings.filter(by=by, ended_at=None).first()
    if running is None:
        return
    if minutes is None and running.was_forgotten(at):
        raise Refused(_s("The clock ran for more than four hours. Say how many minutes you worked."), field="minutes")
    end_sitting(running, at, minutes)
