"""What happens at the bench. Each action is one transaction that locks the horn's row first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone
from django.utils.dateformat import format as dated

from fleet.people.models import Pupil, User
from fleet.refused import Refused
from fleet.register.models import Horn
from fleet.workshop.condition import latest_check, open_findings
from fleet.workshop.faults import WEIGHT, catalogue, grade_of
from fleet.workshop.models import (
    CheckPhotograph,
    ConditionCheck,
    FaultReport,
    Finding,
    JobStep,
    RepairJob,
)

State = RepairJob.State


@dataclass(frozen=True, slots=True)
class Found:
    """One fault seen at a check, by its code in the catalogue."""

    fault: str
    severity: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture drawn anew (`fleet.register.pictures.redrawn`), ready to be kept; sizes in pixels."""

    image: ContentFile[bytes]
    width: int
    height: int
    caption: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """What a technician may change about a job. `minutes` replaces the catalogue's usual times; `cost` is in
    the school's currency."""

    state: str
    technician: User | None = None
    minutes: int | None = None
    parts: str = ""
    cost: Decimal | None = None
    notes: str = ""


@transaction.atomic
def log_check(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    occasion: str,
    finish_grade: int,
    found: Sequence[Found],
    notes: str = "",
    pictures: Sequence[Picture] = (),
) -> ConditionCheck:
    """Keeps a look over the horn and moves its grade to the worst finding.

    Findings that must be mended before a loan open the horn's repair job or join the open one, and so do
    lesser ones whose fault is on that job already. A fault known from an earlier check and not among `found`
    counts as gone from now on. Raises Refused for a withdrawn horn and for findings the catalogue does not know.
    """
    horn = _locked(horn)
    _kept(horn)
    _sound(found)
    check = ConditionCheck.objects.create(
        horn=horn,
        by=by,
        at=at,
        occasion=occasion,
        grade=grade_of(one.severity for one in found),
        finish_grade=finish_grade,
        notes=notes,
    )
    known = list(Finding.objects.filter(check_made__horn=horn, mended_at=None))
    _mend(horn, {one.fault for one in known} - {one.fault for one in found}, at)

    job = horn.jobs.filter(closed_at=None).first()
    joining = {one.fault for one in known if job is not None and one.job_id == job.pk}
    joining |= {one.fault for one in found if WEIGHT[one.severity] >= WEIGHT["r"]}
    joining &= {one.fault for one in found}
    if joining and job is None:
        job = _opened(horn, by, at, words="opened by a condition check")
    Finding.objects.bulk_create(
        Finding(
            check_made=check,
            fault=one.fault,
            severity=one.severity,
            note=one.note,
            job=job if one.fault in joining else None,
        )
        for one in found
    )
    for picture in pictures:
        CheckPhotograph.objects.create(
            check_made=check,
            image=picture.image,
            width=picture.width,
            height=picture.height,
            caption=picture.caption,
        )
    horn.grade, horn.checked_on = check.grade, timezone.localdate(at)
    horn.save(update_fields=["grade", "checked_on", "test_note_owed"])
    return check


@transaction.atomic
def check_as_before(*, horn: Horn, by: User, at: datetime, occasion: str, seen: int) -> ConditionCheck:
    """A look that found the horn just as the check with the number `seen` left it.

    Raises Refused when the horn was never checked or has been checked again since, and as `log_check` does.
    """
    horn = _locked(horn)
    last = latest_check(horn)
    if last is None or last.pk != seen:
        when = f"{last.by} checked {horn} at {_time(last.at)}" if last else f"{horn} has never been checked"
        raise Refused(f"{when}: what it was like before is not what you saw. Look through the check below.")
    found = [Found(one.fault, one.severity, one.note) for one in open_findings(horn)]
    return log_check(horn=horn, by=by, at=at, occasion=occasion, finish_grade=last.finish_grade, found=found)


@transaction.atomic
def open_job(
    *,
    horn: Horn,
    by: User,
    at: datetime,
    findings: Iterable[Finding] = (),
    technician: User | None = None,
    minutes: int | None = None,
    notes: str = "",
) -> RepairJob:
    """A repair job for findings of this horn, for what the notes say, or for both.

    Raises Refused when one is open, when there is nothing to mend, and for a withdrawn horn.
    """
    horn = _locked(horn)
    if horn.jobs.filter(closed_at=None).exists():
        raise Refused(f"{horn} already has an open job.", way_out=("workshop:job-new", "Go to the open job"))
    wanted = [one.pk for one in findings]
    if not wanted and not notes.strip():
        raise Refused("Tick a fault, or say in the notes what is to be done.")
    job = _opened(horn, by, at, technician=technician, minutes=minutes, notes=notes, words="opened")
    Finding.objects.filter(pk__in=wanted, check_made__horn=horn, mended_at=None).update(job=job)
    return job


@transaction.atomic
def change_job(*, job: RepairJob, by: User, at: datetime, seen: int, work: Work) -> RepairJob:
    """Writes what changed about a job and moves the horn on or off the bench with it.

    `seen` is the number of the newest step on the page the change was made from (0 for none). Raises Refused
    when somebody has changed the job since, when it is closed, and when a horn that is out is to go on the bench.
    """
    horn = _locked(job.horn)
    job = RepairJob.objects.select_related("technician").get(pk=job.pk)
    changed = _differences(job, work)
    if not changed:
        return job
    last = job.steps.select_related("by").last()
    if last is not None and last.pk != seen:
        raise Refused(
            f"{last.by} changed this job at {_time(last.at)}: {last.words}. What you typed is still in the form. "
            "Read what stands now, and save again if yours is to hold."
        )
    if job.closed_at is not None:
        raise Refused(
            f"This job was closed on {dated(timezone.localtime(job.closed_at), 'j F Y')}. "
            "What is wrong now belongs on a new job.",
            way_out=("workshop:job-new", "Open a new job"),
        )
    on_bench = work.state in RepairJob.IN_THE_WORKSHOP
    if on_bench:
        _kept(horn)
    if on_bench and horn.holder_name:
        raise Refused(
            f"{horn} is out with {horn.holder_name}. Take it back first, then put it on the bench.",
            way_out=("desk:horn", f"Go to {horn}"),
        )
    for name in changed:
        setattr(job, name, getattr(work, name))
    if work.state not in RepairJob.OPEN:
        job.closed_at = max(at, job.opened_at)
    job.save(update_fields=[*changed, "closed_at"])
    JobStep.objects.create(job=job, at=at, by=by, state=job.state, words=_in_words(job, changed))

    before = (horn.on_bench, horn.test_note_owed)
    if job.state == State.DONE:
        # The horn keeps its grade until it has been looked at again: a grade is what somebody saw and heard,
        # and a repair that nobody has tried proves nothing. The page goes straight on to that check.
        _mend(horn, set(job.findings.filter(mended_at=None).values_list("fault", flat=True)), at)
    horn.on_bench = on_bench
    if (horn.on_bench, horn.test_note_owed) != before:
        horn.save(update_fields=["on_bench", "test_note_owed"])
    return job


@transaction.atomic
def report_fault(*, horn: Horn, pupil: Pupil, by: User, at: datetime, words: str, still_plays: bool) -> FaultReport:
    """Keeps what a family says is wrong; sent twice, it is kept once. Raises Refused for no words or too many."""
    words = words.strip()
    most = FaultReport._meta.get_field("words").max_length
    if not words:
        raise Refused("Say in a few words what is wrong.")
    if most is not None and len(words) > most:
        raise Refused(f"Say it in at most {most} characters.")
    horn = _locked(horn)
    if pupil.school_id != horn.school_id:
        raise Refused("This horn belongs to another school.")
    same = FaultReport.objects.filter(horn=horn, pupil=pupil, by=by, words=words).unanswered().first()
    if same is not None:
        return same
    return FaultReport.objects.create(horn=horn, pupil=pupil, by=by, at=at, words=words, still_plays=still_plays)


@transaction.atomic
def answer_report(*, report: FaultReport, by: User, at: datetime, answer: str, to_bench: bool) -> FaultReport:
    """Answers a family, in words or by putting the horn's job on the bench list, or both.

    Raises Refused when somebody has answered already and when there is neither.
    """
    horn = _locked(report.horn)
    report = FaultReport.objects.select_related("answered_by").get(pk=report.pk)
    if report.answered_at is not None:
        raise Refused(f"{report.answered_by} answered this already at {_time(report.answered_at)}.")
    answer = answer.strip()
    if not answer and not to_bench:
        raise Refused("Write the family an answer, or make a repair job of it.")
    if to_bench:
        report.job = horn.jobs.filter(closed_at=None).first() or _opened(
            horn, by, at, words="opened for a family's report"
        )
    report.answer, report.answered_at, report.answered_by = answer, at, by
    report.save(update_fields=["answer", "answered_at", "answered_by", "job"])
    return report


def _locked(horn: Horn) -> Horn:
    return Horn.objects.select_for_update().get(pk=horn.pk)


def _kept(horn: Horn) -> None:
    if horn.withdrawn_on is not None:
        raise Refused(f"{horn} is withdrawn.", way_out=("register:standing", "Keep it again"))


def _sound(found: Sequence[Found]) -> None:
    known = catalogue().by_code
    if len({one.fault for one in found}) != len(found):
        raise Refused("A fault stands on a check once.")
    for one in found:
        if one.fault not in known:
            raise Refused(f"There is no fault {one.fault!r} in the catalogue.")
        if one.severity not in WEIGHT:
            raise Refused(f"A severity is n, w, r or x, not {one.severity!r}.")
        if known[one.fault].finish and one.severity != "n":
            raise Refused("Finish never stops a loan: it stays a note.")


def _opened(
    horn: Horn,
    by: User,
    at: datetime,
    *,
    words: str,
    technician: User | None = None,
    minutes: int | None = None,
    notes: str = "",
) -> RepairJob:
    _kept(horn)
    job = RepairJob.objects.create(
        horn=horn, opened_by=by, opened_at=at, technician=technician, minutes=minutes, notes=notes
    )
    JobStep.objects.create(job=job, at=at, by=by, state=job.state, words=words)
    return job


def _mend(horn: Horn, faults: set[str], at: datetime) -> None:
    """Marks these faults mended on every check of the horn that had them. The caller saves the horn."""
    if not faults:
        return
    Finding.objects.filter(check_made__horn=horn, mended_at=None, fault__in=faults).update(mended_at=at)
    if any(catalogue().fault(code).test_note for code in faults):
        horn.test_note_owed = True


def _differences(job: RepairJob, work: Work) -> list[str]:
    names = ("state", "technician", "minutes", "parts", "cost", "notes")
    return [name for name in names if getattr(job, name) != getattr(work, name)]


def _in_words(job: RepairJob, changed: Sequence[str]) -> str:
    """What changed, for the next reader: state and technician by their new value, the rest by name."""
    told = []
    for name in changed:
        if name == "state":
            told.append(job.get_state_display())
        elif name == "technician":
            told.append(f"technician {job.technician}" if job.technician else "no technician")
        else:
            told.append(name)
    return ", ".join(told)[:300]


def _time(at: datetime) -> str:
    return dated(timezone.localtime(at), "H:i, j F")
