"""A horn on loan comes to be mended and goes back, without its loan ending. Each action locks the horn's row first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.people.models import User
from fleet.record.queries.telling import moved
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.actions.mending import step, still_away
from fleet.workshop.models import RepairJob


@dataclass(frozen=True, slots=True)
class ForTheFamily:
    """What a family is told of a repair: the day to bring the horn with where and when, and from when to fetch it."""

    bring_on: date | None = None
    bring_words: str = ""
    fetch_on: date | None = None


NAMES = ("bring_on", "bring_words", "fetch_on")


@transaction.atomic
def tell_family(*, job: RepairJob, said: ForTheFamily, by: User, at: datetime) -> RepairJob:
    """Tells the family of who has the horn when to bring and to fetch it. Another day to bring it is to be read anew.

    Raises Refused when nobody has the horn on loan, when a horn that is here is to be brought, and when it is given up.
    """
    horn = locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    changed = [name for name in NAMES if getattr(job, name) != getattr(said, name)]
    if not changed:
        return job
    if not horn.holder_name:
        raise Refused(_s("Nobody has %(horn)s on loan: there is no family to tell.") % {"horn": horn})
    if job.state == RepairJob.State.GIVEN_UP:
        raise Refused(_s("This job was given up. What is to be done now belongs on a new job."))
    asks = {"bring_on", "bring_words"} & set(changed)
    if asks and (horn.on_bench or not job.is_open):
        raise Refused(_s("%(horn)s is not to be brought: it is here, or its repair is done.") % {"horn": horn})
    told = moved(job, {name: getattr(said, name) for name in changed})
    for name in changed:
        setattr(job, name, getattr(said, name))
    if asks:
        job.bring_seen_at = None
    job.save(update_fields=[*changed, "bring_seen_at"])
    step(job=job, words=", ".join(_in_words(job, bool(asks), "fetch_on" in changed)), told=told, by=by, at=at)
    return job


@transaction.atomic
def bring(*, job: RepairJob, bring_on: date, by: User, at: datetime) -> None:
    """The family says that it will bring the horn on that day. Said twice, it is said once.

    Raises Refused when another day stands by now, and when nobody waits for it any more.
    """
    locked(job.horn)
    job = RepairJob.objects.get(pk=job.pk)
    if not job.waits_for_family:
        raise Refused(gettext("The school does not wait for it any more."))
    if job.bring_on != bring_on:
        raise Refused(gettext("The school has named another day. Read it, then say that you bring it."))
    if job.bring_seen_at is None:
        job.bring_seen_at = at
        job.save(update_fields=["bring_seen_at"])
        with kept_in_english():
            words = f"the family brings it on {day(bring_on)}"
        step(job=job, words=words, by=by, at=at)


@transaction.atomic
def fetched(*, job: RepairJob, by: User, at: datetime) -> None:
    """The horn went back to who has it on loan. Work that was begun on it waits again. Recorded twice, it is one.

    Raises Refused while it is at a repairer's.
    """
    horn = locked(job.horn)
    if not horn.here_for_repair:
        return
    work = horn.jobs.filter(closed_at=None).first()
    if work is not None and work.state == RepairJob.State.AWAY:
        raise still_away(work)
    if work is not None and work.state in RepairJob.IN_THE_WORKSHOP:
        work.state = RepairJob.State.WAITING
        work.save(update_fields=["state"])
    last = work or RepairJob.objects.filter(horn=horn).brought().first() or job
    went_back(horn=horn, at=at)
    step(job=last, words="fetched: it is with who has it on loan", by=by, at=at)
    keep([horn])


def went_back(*, horn: Horn, at: datetime) -> None:
    """Whatever the horn was brought for, it is here for that no more. The caller holds its row and keeps the horn."""
    for job in RepairJob.objects.filter(horn=horn).brought():
        # Clocks that disagree do not let it go before it came.
        job.fetched_at = max(at, job.brought_at) if job.brought_at else at
        job.save(update_fields=["fetched_at"])


# The story of a job is kept, so it is in one language.
@kept_in_english()
def _in_words(job: RepairJob, asks: bool, fetch: bool) -> list[str]:
    words = []
    if asks:
        words.append(f"the family is to bring it on {day(job.bring_on)}" if job.bring_on else "nothing to be brought")
    if fetch:
        words.append(f"the family may fetch it from {day(job.fetch_on)}" if job.fetch_on else "no day to fetch it")
    return words
