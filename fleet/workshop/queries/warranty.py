"""A fault that is back although it was mended not long ago: who mended it may have to see to it again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from fleet.people.models import School
from fleet.workshop.models import Finding, RepairJob


@dataclass(frozen=True, slots=True)
class Back:
    """A fault of a job that an earlier job had mended."""

    words: str
    earlier: RepairJob
    days: int

    @property
    def by(self) -> str:
        return self.earlier.repairer or str(self.earlier.technician or self.earlier.opened_by)


def back_again(job: RepairJob, findings: Iterable[Finding], school: School) -> list[Back]:
    """Those of the job's findings that a job done at most `warranty_days` before it was opened had mended, at the same
    valve or slide where both say which. One query."""
    since = job.opened_at - timedelta(days=school.warranty_days)
    now = {one.fault: set(one.places) for one in findings}
    mended = (
        Finding.objects.filter(
            job__horn=job.horn_id,
            job__state=RepairJob.State.DONE,
            job__closed_at__gte=since,
            job__closed_at__lte=job.opened_at,
            mended_at__isnull=False,
            fault__in=now,
        )
        .exclude(job=job)
        .select_related("job__technician", "job__opened_by")
        .order_by("job__closed_at", "pk")
    )
    found = {}
    for finding in mended:
        earlier = finding.job
        then, here = set(finding.places), now[finding.fault]
        if then and here and not then & here:
            continue
        if earlier is not None and earlier.closed_at is not None and school.warranty_days:
            days = (job.opened_at - earlier.closed_at).days
            again = [place for place in finding.places if place in here] or finding.places
            found[finding.fault] = Back(str(Finding(fault=finding.fault, places=again)), earlier, days)
    return list(found.values())
