"""A job at an outside repairer: the quote, a head's word for it, and where the horn is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.dateformat import format as dated
from django.utils.translation import gettext as _s

from fleet.ground.badges import money
from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused, WayOut
from fleet.people.models import User
from fleet.record.queries.telling import moved, worded
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.workshop.actions.jobs import State, unchanged_since
from fleet.workshop.actions.mending import step, still_kept
from fleet.workshop.models import RepairJob


@dataclass(frozen=True, slots=True)
class Outside:
    """What the school and the repairer have agreed; `quote` in the school's currency."""

    repairer: str = ""
    quote: Decimal | None = None
    sent_on: date | None = None
    expected_on: date | None = None
    back_on: date | None = None


# What a step says of each, and of each that was emptied.
NAMES = {
    "repairer": ("with {}", "no repairer"),
    "quote": ("quote {}", "no quote"),
    "sent_on": ("sent {}", "not sent"),
    "expected_on": ("expected back {}", "no day expected"),
    "back_on": ("back {}", "not back"),
}


# The story of a job is kept, so it is in one language.
@kept_in_english()
def _in_words(name: str, value: str | Decimal | date | None) -> str:
    filled, emptied = NAMES[name]
    if value is None or value == "":
        return emptied
    return filled.format(dated(value, "j F") if isinstance(value, date) else value)


@transaction.atomic
def change_outside(*, job: RepairJob, by: User, at: datetime, seen: int, said: Outside) -> RepairJob:
    """Writes who mends it, for how much, and when it went and came; moves the job to and from the repairer's.

    Raises Refused when somebody has changed the job since `seen`, when it is closed, when a horn that is out is to be
    sent, and when the quote needs a head's word first.
    """
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    changed = [name for name in NAMES if getattr(job, name) != getattr(said, name)]
    if not changed:
        return job
    unchanged_since(job, seen)
    away = said.sent_on is not None and said.back_on is None
    # Sent for the first time, be it back by now, or sent once more by taking back that it is back.
    leaving = said.sent_on is not None and (job.sent_on is None or (away and job.state != State.AWAY))
    told = moved(job, {name: getattr(said, name) for name in changed})
    for name in changed:
        setattr(job, name, getattr(said, name))
    limit = horn.school.approve_above
    if leaving:
        still_kept(horn)
        if horn.holder_name and not horn.on_bench:
            raise Refused(
                _s("%(horn)s is out with %(holder_name)s. Let it be brought first, then send it.")
                % {"horn": horn, "holder_name": horn.holder_name},
                way_out=WayOut("desk:horn", _s("Go to %(horn)s") % {"horn": horn}, (horn.pk,)),
            )
        if job.needs_approval(limit):
            raise Refused(
                _s(
                    "Quotes above %(limit)s %(currency)s need a head’s word. Save the quote without a date "
                    "of sending; a head approves it on this page."
                )
                % {"limit": money(limit), "currency": horn.school.currency}
            )
    if away:
        job.state = State.AWAY
    elif job.state == State.AWAY:
        job.state = State.BENCH
    job.save(update_fields=[*changed, "state"])
    words = ", ".join(_in_words(name, getattr(said, name)) for name in changed)
    step(job=job, words=f"{worded(job, 'state')}: {words}", told=told, by=by, at=at)
    keep([horn])
    return job


@transaction.atomic
def approve(*, job: RepairJob, by: User, at: datetime, amount: Decimal) -> RepairJob:
    """A head's word for a quote of that amount, or for a cost that came to more. A job may be done by then.

    Raises Refused when the amount is another by now.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    if job.asked != amount:
        asked = {
            "": _s("There is no quote any more. Read it, then approve."),
            "quote": _s("There is a quote of %(asked)s now. Read it, then approve."),
            "cost": _s("There is a cost of %(asked)s now. Read it, then approve."),
        }
        raise Refused(asked[job.asks_with if job.asked is not None else ""] % {"asked": money(job.asked)})
    if job.approved == amount:
        return job
    job.approved, job.approved_by, job.approved_at = amount, by, at
    job.save(update_fields=["approved", "approved_by", "approved_at"])
    step(job=job, words=f"{job.asks_with} of {amount} approved", by=by, at=at)
    return job
