"""A fault mended on the spot by who looked: the job, its minutes and the check after it, in one act."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused, WayOut
from fleet.people.models import User
from fleet.record.queries.telling import in_english
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn
from fleet.workshop.actions.checking import check_as_before, sent_before
from fleet.workshop.actions.jobs import State, change_job, open_job, work_of
from fleet.workshop.actions.mending import mend, step, still_away
from fleet.workshop.actions.parts import use_part
from fleet.workshop.models import ConditionCheck, Finding, Part, RepairJob
from fleet.workshop.queries.agreed import left_on
from fleet.workshop.queries.condition import open_findings

NOT_FOUND = _s_lazy("This is mended already, or was not found. Look at what is wrong with it now.")


@transaction.atomic
def mended_now(
    *,
    horn: Horn,
    fault: str,
    by: User,
    at: datetime,
    seen: int | str,
    minutes: int | None = None,
    parts: Iterable[Part] = (),
    sent_as: UUID | None = None,
    received_at: datetime | None = None,
) -> ConditionCheck:
    """One fault of the horn is mended, and the horn played: all else is as the check that was `seen` left it.

    A job that is open takes the fault in; it ends with it when nothing else waits on it. `parts` are taken off the
    shelf, one for each place of the fault. `seen`, `sent_as` and `received_at` are as of a check. Raises
    Refused when the fault is mended or for the repairer, when the horn is at the repairer's or has been checked again
    since, and as taking a part does.
    """
    horn = locked(horn)
    there = sent_before(sent_as, by)
    if there is not None and there.horn_id == horn.pk:
        return there
    finding = next((one for one in open_findings(horn) if one.fault == fault), None)
    if finding is None:
        raise Refused(NOT_FOUND)
    if finding.entry.who != "staff":
        raise Refused(
            _s("“%(entry)s” is for the repairer.") % {"entry": _s(finding.entry.words)},
            way_out=WayOut("workshop:job-new", _s("Open a repair job"), (horn.pk,)),
        )
    job = horn.jobs.filter(closed_at=None).first()
    if job is not None and job.state == State.AWAY:
        raise still_away(job)
    if job is None:
        job = open_job(horn=horn, by=by, at=at, findings=[finding], technician=by, minutes=minutes)
    Finding.objects.filter(check_made__horn=horn, mended_at=None, fault=fault).update(job=job)
    for part in Part.objects.select_for_update().filter(pk__in=[part.pk for part in parts]).order_by("pk"):
        use_part(job=job, part=part, count=finding.count, by=by, at=at)
    if waits_for_more(job, fault):
        mend(horn, {fault}, at)
        took = "" if minutes is None else f", {minutes} min"
        step(job=job, words=f"{in_english(finding)} mended on the spot{took}", by=by, at=at)
        keep([horn])
    else:
        work = replace(work_of(job), state=State.DONE, technician=job.technician or by)
        if minutes is not None:
            work = replace(work, minutes=minutes)
        change_job(job=job, by=by, at=at, seen=job.steps.latest("pk").pk, work=work)
    return check_as_before(
        horn=horn,
        by=by,
        at=at,
        occasion=ConditionCheck.Occasion.AFTER_REPAIR,
        seen=seen,
        sent_as=sent_as,
        received_at=received_at,
    )


def waits_for_more(job: RepairJob, fault: str) -> bool:
    """Whether the job is about more than this fault: another one, what is ordered or noted, or a family's report."""
    others = [one for one in left_on(job) if one.fault != fault]
    return bool((job.work_ordered + job.notes).strip() or others) or job.fault_reports.exists()
