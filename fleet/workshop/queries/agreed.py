"""What is agreed about a job: how each of its faults stands, and how long its repairer usually keeps a horn."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import median_low
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import ngettext as _s_many

from fleet.ground.paging import raw_values
from fleet.people.models import School
from fleet.workshop.models import Finding, NotDone, RepairJob, RepairJobQuerySet
from fleet.workshop.models.checks import times
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.works import works
from fleet.workshop.queries.condition import newest_of_each, open_findings


class FoundOnJob(NamedTuple):
    """The newest finding of a fault on a job: how often the horn has it and how long that usually takes to mend, None
    where nobody can say; `left` while it is neither mended nor agreed to be left out."""

    key: int
    fault: str
    severity: str
    often: int
    minutes: int | None
    left: bool


def found_on_jobs(school: School) -> dict[int, list[FoundOnJob]]:
    """By job, of the open ones of a school: as plain values, since jobs are many and a page shows few. One query."""
    on_job: dict[int, dict[str, FoundOnJob]] = defaultdict(dict)
    told = raw_values(lambda: _found_on(RepairJob.objects.at(school).open()), like=("found on jobs", school.pk))
    for key, job, fault, severity, number, places, mended_at, left in told:
        often, minutes = times(number, json.loads(places)), catalogue().fault(fault).minutes
        found = FoundOnJob(key, fault, severity, often, minutes and minutes * often, mended_at is None and not left)
        on_job[job][fault] = found
    return {job: list(found.values()) for job, found in on_job.items()}


def _found_on(jobs: RepairJobQuerySet) -> QuerySet[Finding, tuple[Any, ...]]:
    """All their findings, the oldest first."""
    left_out = NotDone.objects.filter(job=OuterRef("job"), fault=OuterRef("fault"))
    # By their jobs: SQLite would go through every finding that any job of the site ever had.
    rows = Finding.objects.filter(job__in=jobs.values("pk"))
    rows = rows.annotate(left_out=Exists(left_out)).order_by("check_made__at", "pk")
    return rows.values_list("pk", "job", "fault", "severity", "number", "places", "mended_at", "left_out")


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


def turnarounds(school: School) -> dict[str, Turnaround]:
    """By a repairer's name in small letters, how it went until now. One query."""
    kept: dict[str, list[tuple[str, int]]] = defaultdict(list)
    went = RepairJob.objects.at(school).filter(sent_on__isnull=False, back_on__isnull=False).order_by("back_on", "pk")
    for repairer, sent_on, back_on in went.values_list("repairer", "sent_on", "back_on"):
        if sent_on and back_on:
            kept[repairer.casefold()].append((repairer, (back_on - sent_on).days))
    return {
        name: Turnaround(times[-1][0], median_low([days for _, days in times]), len(times))
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
