"""What is agreed about a job: how each of its faults stands, and how long its repairer usually keeps a horn."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from statistics import median_low

from django.db.models import Exists, OuterRef
from django.utils.translation import ngettext as _s_many

from fleet.ground.paging import ByKey
from fleet.people.models import School
from fleet.workshop.models import Finding, NotDone, RepairJob
from fleet.workshop.models.works import works
from fleet.workshop.queries.condition import newest_of_each, open_findings


@cache
def _found() -> ByKey[Finding]:
    """All findings of jobs, the oldest first."""
    left_out = NotDone.objects.filter(job=OuterRef("job"), fault=OuterRef("fault"))
    rows = Finding.objects.annotate(left_out=Exists(left_out)).order_by("check_made__at", "pk")
    columns = ("job_id", "fault", "severity", "number", "places", "measured", "note", "mended_at")
    return ByKey(rows, *columns, by=("job",))


def found_on_jobs(jobs: Sequence[int]) -> dict[int, list[Finding]]:
    """By job, the newest finding of each of its faults; `left_out` where it is agreed not to be mended. They hold what
    is said of a fault and not its check. One query."""
    on_job: dict[int, dict[str, Finding]] = defaultdict(dict)
    for one in _found()(jobs):
        on_job[one.job_id or 0][one.fault] = one
    return {job: list(found.values()) for job, found in on_job.items()}


def findings_of(job: RepairJob) -> list[Finding]:
    """The job's faults, the newest word on each, the heaviest first; `not_done_why` says why one is left as it is, ""
    where it is not. Two queries."""
    left_out = dict(job.not_done.values_list("fault", "why"))
    found = newest_of_each(job.findings.order_by("check_made__at", "pk"))
    for one in found:
        one.not_done_why = "" if one.mended_at else left_out.get(one.fault, "")  # type: ignore[attr-defined]
    return found


def left_on(job: RepairJob) -> list[Finding]:
    return left_of(findings_of(job))


def left_of(findings: Iterable[Finding]) -> list[Finding]:
    """Those of `findings_of` that are still to be mended."""
    return [one for one in findings if one.mended_at is None and not one.not_done_why]  # type: ignore[attr-defined]


def beside(job: RepairJob) -> list[Finding]:
    """What else is wrong with the horn of an open job, which it may take in; the heaviest first. One query."""
    return [one for one in open_findings(job.horn) if one.job_id != job.pk] if job.is_open else []


@dataclass(frozen=True, slots=True)
class Turnaround:
    """How many days a repairer kept a horn, in the middle of so many times."""

    repairer: str
    days: int
    times: int

    @property
    def words(self) -> str:
        if self.times == 1:
            said = _s_many("back after %(days)s day", "back after %(days)s days", self.days)
        else:
            said = _s_many(
                "usually back after %(days)s day (%(times)s times)",
                "usually back after %(days)s days (%(times)s times)",
                self.days,
            )
        return said % {"days": self.days, "times": self.times}


# Times that tell how long repairers take.
NEWEST = 1000


def turnarounds(school: School) -> dict[str, Turnaround]:
    """By a repairer's name in small letters, how it went the newest so many times. One query."""
    kept: dict[str, list[tuple[str, int]]] = defaultdict(list)
    went = RepairJob.objects.at(school).filter(back_on__isnull=False).order_by("-back_on", "-pk")
    for repairer, sent_on, back_on in went.values_list("repairer", "sent_on", "back_on")[:NEWEST]:
        if sent_on and back_on:
            kept[repairer.casefold()].append((repairer, (back_on - sent_on).days))
    return {
        name: Turnaround(times[0][0], median_low([days for _, days in times]), len(times))
        for name, times in sorted(kept.items())
    }


def reckoned(school: School) -> dict[str, tuple[int | None, Decimal | None]]:
    """By code of each work, the minutes and the price that this school reckons; where it says nothing of them, the
    catalogue's minutes and no price. One query."""
    told: dict[str, tuple[int | None, Decimal | None]] = {code: (one.minutes, None) for code, one in works().items()}
    for one in school.labour_prices.all():
        usual = told.get(one.work, (None, None))[0]
        told[one.work] = (usual if one.minutes is None else one.minutes, one.price)
    return told
