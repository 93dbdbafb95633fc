"""Opening a repair job and writing what becomes of it. One transaction that locks the horn's row first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import kept_in_english
from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day, spoken_time
from fleet.people.models import User
from fleet.record.queries.telling import moved
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.actions.mending import mend, opened, step, still_away, still_kept, stop_all
from fleet.workshop.models import Finding, RepairJob
from fleet.workshop.models.steps import told_again
from fleet.workshop.queries.agreed import left_on
from fleet.workshop.queries.bench import usual_minutes

State = RepairJob.State


@dataclass(frozen=True, slots=True)
class Work:
    """What a technician may change about a job. `minutes` replaces the catalogue's usual times; `cost` is in
    the school's currency."""

    state: str
    technician: User | None = None
    minutes: int | None = None
    parts: str = ""
    cost: Decimal | None = None
    work_ordered: str = ""
    notes: str = ""
    verdict: str = ""
    verdict_why: str = ""


NAMES = ("state", "technician", "minutes", "parts", "cost", "work_ordered", "notes", "verdict", "verdict_why")


# What a step says of a column whose words are too long for it.
CHANGED = {
    "parts": "parts noted",
    "cost": "cost noted",
    "work_ordered": "work ordered",
    "notes": "notes changed",
    "verdict_why": "reasons noted",
}


def work_of(job: RepairJob) -> Work:
    """The job's work as it stands."""
    return Work(**{name: getattr(job, name) for name in NAMES})


@transaction.atomic
def open_job(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    findings: Iterable[Finding] = (),
    technician: User | None = None,
    minutes: int | None = None,
    work_ordered: str = "",
    notes: str = "",
) -> RepairJob:
    """A repair job for findings of this horn, for what is ordered or noted, or for both.

    Raises Refused when one is open, when there is nothing to mend, and for a withdrawn horn.
    """
    horn = locked(horn)
    if horn.jobs.filter(closed_at=None).exists():
        raise Refused(
            _s("%(horn)s already has an open job.") % {"horn": horn},
            way_out=WayOut("workshop:job-new", _s("Go to the open job"), (horn.pk,)),
        )
    wanted = [one.pk for one in findings]
    if not wanted and not (work_ordered + notes).strip():
        raise Refused(_s("Tick a fault, or say what is to be done."))
    said: dict[str, Any] = {"technician": technician, "minutes": minutes, "notes": notes}
    job = opened(horn, by, at, words="opened", work_ordered=work_ordered, **said)
    Finding.objects.filter(pk__in=wanted, check_made__horn=horn, mended_at=None).update(job=job)
    keep([horn])
    return job


@transaction.atomic
def change_job(*, job: RepairJob, by: User, at: datetime, seen: int, work: Work, brought: bool = False) -> RepairJob:
    """Writes what changed about a job and moves the horn on or off the bench with it.

    Done mends the faults that are not said to be left as they are. `seen` is the number of the newest step on the page
    the change was made from (0 for none). `brought` says that a horn on loan was brought: it is in the workshop until
    it is fetched, and its loan goes on. Raises Refused when a verdict has no reason,
    when somebody has changed the job since, when it is closed, when a horn that is out is to go on the bench, and while
    it is at the repairer's: who knows when it came back says so first.
    """
    horn = locked(job.horn)
    job = RepairJob.objects.select_related("technician").get(pk=job.pk)
    changed = _differences(job, work)
    if not changed:
        return job
    unchanged_since(job, seen)
    if work.verdict and not work.verdict_why.strip():
        raise Refused(_s("Say why it is worth mending, or not."))
    if job.state == State.AWAY and work.state != State.AWAY:
        raise still_away(job)
    if work.state == State.AWAY and job.state != State.AWAY:
        raise Refused(_s("Say below which repairer has the horn and since when: that puts the job at the repairer’s."))
    on_bench = work.state in RepairJob.IN_THE_WORKSHOP
    if on_bench:
        still_kept(horn)
    if on_bench and horn.holder_name and not (brought or horn.on_bench):
        raise Refused(
            _s(
                "%(horn)s is out with %(holder_name)s. Once it is brought, press “It is here” on its job; "
                "its loan goes on."
            )
            % {"horn": horn, "holder_name": horn.holder_name},
            way_out=WayOut("desk:horn", _s("Go to %(horn)s") % {"horn": horn}, (horn.pk,)),
        )
    told = moved(job, {name: getattr(work, name) for name in changed})
    for name in changed:
        setattr(job, name, getattr(work, name))
    if work.state not in RepairJob.OPEN:
        job.closed_at = max(at, job.opened_at)
        timed = stop_all(job, at)
        job.minutes = timed if job.minutes is None and timed else job.minutes
    words = _in_words(job, changed)
    if brought and horn.holder_name and not horn.on_bench:
        job.brought_at, job.fetched_at = at, None
        words = f"brought for repair, its loan goes on; {words}"
    job.save(update_fields=[*changed, "minutes", "closed_at", "brought_at", "fetched_at"])
    step(job=job, words=words, told=told, by=by, at=at)

    if job.state == State.DONE:
        # The horn keeps its grade until it has been looked at again: a grade is what somebody saw and heard,
        # and a repair that nobody has tried proves nothing. The page goes straight on to that check.
        mend(horn, {one.fault for one in left_on(job)}, at)
    keep([horn])
    return job


@transaction.atomic
def move_job(*, job: RepairJob, by: User, at: datetime, seen: int, state: str) -> RepairJob:
    """One tap moves the job on: `state` is bench, parts, done, or brought, which starts the work on a horn whose
    family has brought it. Who taps takes a job that nobody has; done where no
    minutes are noted takes those of the clock, else the usual ones of what was mended.

    Raises Refused as `change_job` does.
    """
    work = work_of(job)
    minutes = work.minutes
    if state == State.DONE and minutes is None and not job.sittings.exists():
        minutes = usual_minutes([*left_on(job), *job.works.all()])
    brought = state == RepairJob.BROUGHT[0]
    to = State.BENCH.value if brought else state
    work = replace(work, state=to, technician=work.technician or by, minutes=minutes)
    return change_job(job=job, by=by, at=at, seen=seen, work=work, brought=brought)


def note_stand_in(*, horn: Horn, stand_in: Horn, by: User, at: datetime) -> None:
    """Notes on the horn's open job, where there is one, which horn its pupil plays meanwhile.

    The caller has both horns locked and holds the transaction.
    """
    job = horn.jobs.filter(closed_at=None).first()
    if job is None:
        return
    job.stand_in = stand_in
    job.save(update_fields=["stand_in"])
    step(job=job, words=f"{stand_in} went out in its place", by=by, at=at)


def unchanged_since(job: RepairJob, seen: int) -> None:
    """Refuses when the job has a newer step than `seen` (0 for none), and when it is closed."""
    last = job.steps.select_related("by").last()
    if last is not None and last.pk != seen:
        raise Refused(
            _s(
                "%(by)s changed this job at %(at)s: %(last)s. What you typed is still in the form. Read what "
                "stands now, and save again if yours is to hold."
            )
            % {"by": last.by, "at": spoken_time(last.at), "last": told_again(last.words)}
        )
    still_open(job)


def still_open(job: RepairJob) -> None:
    if job.closed_at is not None:
        raise Refused(
            _s("This job was closed on %(closed_at)s. What is wrong now belongs on a new job.")
            % {"closed_at": day(timezone.localtime(job.closed_at))},
            way_out=WayOut("workshop:job-new", _s("Open a new job"), (job.horn_id,)),
        )


def _differences(job: RepairJob, work: Work) -> list[str]:
    return [name for name in NAMES if getattr(job, name) != getattr(work, name)]


# The story of a job is kept, so it is in one language.
@kept_in_english()
def _in_words(job: RepairJob, changed: Sequence[str]) -> str:
    """What changed, for the next reader: state, technician and minutes by their new value, the rest by name."""
    told = []
    for name in changed:
        if name == "state":
            told.append(job.get_state_display())
        elif name == "technician":
            told.append(f"technician {job.technician}" if job.technician else "no technician")
        elif name == "minutes":
            told.append("minutes left open" if job.minutes is None else f"{job.minutes} min")
        elif name == "verdict":
            told.append(job.get_verdict_display() or "no verdict")
        else:
            told.append(CHANGED[name])
    return ", ".join(told)
