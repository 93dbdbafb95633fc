"""An order that went out to a repairer by e-mail, and the invoices that came in for it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.core.files.base import ContentFile
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.mail.queries import has_server
from fleet.people.models import User
from fleet.register.actions.files import delete_with, save_with
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.workshop.actions.jobs import unchanged_since
from fleet.workshop.actions.mending import step
from fleet.workshop.models import Invoice, RepairJob

# A job in parts: a deposit, the work, what came later.
MOST_INVOICES = 6


@transaction.atomic
def send_order(
    *, job: RepairJob, address: str, subject: str, words: str, paper: bytes, by: User, at: datetime, seen: int
) -> RepairJob:
    """Sends the order, `paper` as PDF, to a repairer's address. `seen` is the newest step on the page that showed it.

    Raises Refused where the site has no mail server, when nobody has said which repairer it is, when somebody has
    changed the job since, and when it is closed.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    unchanged_since(job, seen)
    if not has_server():
        raise Refused(_s("This site has no mail server. Print the order, or send the PDF from your own mail."))
    if not job.repairer:
        raise Refused(_s("Say first which repairer it goes to."))
    job.order_to, job.ordered_at = address, at
    job.save(update_fields=["order_to", "ordered_at"])
    school = job.horn.school.e_mail
    letter = EmailMessage(subject, words, None, [address], reply_to=[school] if school else None)
    letter.attach(f"order-{job.horn}.pdf", paper, "application/pdf")
    letter.send()
    step(job=job, words=f"order sent to {job.repairer}, {address}", by=by, at=at)
    return job


@transaction.atomic
def keep_invoice(
    *, job: RepairJob, amount: Decimal, number: str = "", file: ContentFile[bytes] | None = None, by: User, at: datetime
) -> Invoice:
    """Keeps an invoice with its job, which may be closed by then. The job's cost follows the invoices unless somebody
    wrote another. `file` is what `fleet.ground.files.pdfs.kept_paper` let pass.

    Raises Refused for a number that is there already, and beyond six.
    """
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    if number and job.invoices.filter(number=number).exists():
        raise Refused(_s("This invoice is kept with the job already."), field="number")
    if job.invoices.count() >= MOST_INVOICES:
        raise Refused(_s("A job keeps at most %(most)s invoices. Take one away first.") % {"most": MOST_INVOICES})
    before = _billed(job)
    kept = Invoice(job=job, number=number, amount=amount, at=at, by=by)
    if file is None:
        kept.save()
    else:
        save_with(kept.file, file)
    _follow(job, before)
    step(job=job, words=f"{kept} over {amount} kept", by=by, at=at)
    keep([horn])
    return kept


@transaction.atomic
def remove_invoice(*, job: RepairJob, invoice: int, by: User, at: datetime) -> None:
    """An invoice was kept by mistake; its file goes with it. One that is gone is left at that."""
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    gone = job.invoices.filter(pk=invoice).first()
    if gone is None:
        return
    before, words = _billed(job), f"{gone} over {gone.amount} removed"
    if gone.file:
        delete_with(gone.file)
    else:
        gone.delete()
    _follow(job, before)
    step(job=job, words=words, by=by, at=at)
    keep([horn])


def _billed(job: RepairJob) -> Decimal | None:
    """The sum of its invoices; None where it has none."""
    sums: list[Decimal] = list(job.invoices.values_list("amount", flat=True))
    return sum(sums, Decimal(0)) if sums else None


def _follow(job: RepairJob, before: Decimal | None) -> None:
    """The cost was that of the invoices until now, or nobody wrote any: it stays theirs."""
    if job.cost == before:
        job.cost = _billed(job)
        job.save(update_fields=["cost"])
