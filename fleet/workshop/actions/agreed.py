"""What is agreed about an open job: a fault taken in, done, left as it is, or open again; quotes of other repairers."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.queries.telling import in_english
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.workshop.actions.jobs import still_open
from fleet.workshop.actions.mending import mend, step
from fleet.workshop.models import Finding, NotDone, OtherQuote, RepairJob
from fleet.workshop.queries.condition import open_findings

DONE, NOT_DONE, OPEN = "done", "not-done", "open"


@transaction.atomic
def take_in(*, job: RepairJob, faults: Collection[str], by: User, at: datetime) -> None:
    """The job is about these faults of its horn too, whatever their severity. Said twice, it is said once.

    Raises Refused when the job is closed and when one of them is not wrong with the horn (any more).
    """
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    known = {one.fault: one for one in open_findings(horn)}
    if not known.keys() >= set(faults):
        raise Refused(_s("This is not wrong with it any more. Look at the job again."))
    new = [one for one in known.values() if one.fault in faults and one.job_id != job.pk]
    if not new:
        return
    Finding.objects.filter(pk__in=[one.pk for one in new]).update(job=job)
    step(job=job, words=f"taken in: {', '.join(map(in_english, new))}", by=by, at=at)
    keep([horn])


@transaction.atomic
def settle(*, job: RepairJob, fault: str, said: str, why: str = "", by: User, at: datetime) -> None:
    """One fault of the job is `done`, `not-done` and why, or `open` again. Said twice, it is said once.

    Raises Refused when the job is closed, when it is not about this fault, and when nothing says why it is left.
    """
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    finding = job.findings.filter(fault=fault).order_by("-check_made__at", "-pk").first()
    if finding is None:
        raise Refused(_s("The job is not about this fault any more. Look at it again."))
    left_out = job.not_done.filter(fault=fault)
    why = why.strip()
    if said == NOT_DONE:
        if not why:
            raise Refused(_s("Say why it is not done."))
        if left_out.filter(why=why).exists():
            return
        job.findings.filter(fault=fault, mended_at__isnull=False).update(mended_at=None)
        NotDone.objects.update_or_create(job=job, fault=fault, defaults={"why": why, "by": by, "at": at})
        words = f"{in_english(finding)} not done: {why}"
    elif said == DONE:
        if finding.mended_at is not None:
            return
        left_out.delete()
        mend(horn, {fault}, at)
        words = f"{in_english(finding)} done"
    else:
        if finding.mended_at is None and not left_out.exists():
            return
        left_out.delete()
        job.findings.filter(fault=fault).update(mended_at=None)
        words = f"{in_english(finding)} open again"
    step(job=job, words=words, by=by, at=at)
    keep([horn])


@transaction.atomic
def add_quote(*, job: RepairJob, repairer: str, amount: Decimal, words: str = "", by: User, at: datetime) -> None:
    """Keeps what another repairer asks; sent twice, it is kept once. Raises Refused when the job is closed."""
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    said = {"repairer": repairer, "amount": amount, "words": words}
    if not job.other_quotes.filter(**said).exists():
        OtherQuote.objects.create(job=job, at=at, by=by, **said)
        step(job=job, words=f"quote of {amount} from {repairer}", by=by, at=at)


@transaction.atomic
def take_quote(*, job: RepairJob, quote: int, by: User, at: datetime) -> None:
    """Takes another repairer's quote; the one the job had becomes one of the others. One that is gone is left at that.

    Raises Refused when the job is closed and when the horn was sent to a repairer already.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    other = job.other_quotes.filter(pk=quote).first()
    if other is None:
        return
    if job.sent_on is not None:
        raise Refused(
            _s("%(horn)s was sent to %(repairer)s already: this quote stands for another job.")
            % {"horn": job.horn, "repairer": job.repairer}
        )
    before = (job.repairer, job.quote)
    job.repairer, job.quote = other.repairer, other.amount
    job.save(update_fields=["repairer", "quote"])
    other.delete()
    if before[0] and before[1] is not None:
        OtherQuote.objects.create(job=job, repairer=before[0], amount=before[1], at=at, by=by)
    terms = f": {other.words}" if other.words else ""
    step(job=job, words=f"took the quote of {job.quote} from {job.repairer}{terms}", by=by, at=at)


@transaction.atomic
def drop_quote(*, job: RepairJob, quote: int, by: User, at: datetime) -> None:
    """Another repairer's quote was a mistake; one that is gone is left at that.

    Raises Refused when the job is closed.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    still_open(job)
    other = job.other_quotes.filter(pk=quote).first()
    if other is not None:
        step(job=job, words=f"removed the quote of {other.amount} from {other.repairer}", by=by, at=at)
        other.delete()
