"""A fault that is back although it was mended not long ago: who mended it may have to see to it again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from fleet.people.models import School
from fleet.workshop.models import Finding, RepairJob
from fleet.workshop.models.faults import Fault, catalogue


@dataclass(frozen=True, slots=True)
class Back:
    """A fault of a job that an earlier job had mended."""

    entry: Fault
    earlier: RepairJob
    days: int

    @property
    def by(self) -> str:
        return self.earlier.repairer or str(self.earlier.technician or self.earlier.opened_by)


def back_again(job: RepairJob, school: School) -> list[Back]:
    """Faults of this job that a job done at most `warranty_days` before it was opened had mended. One query."""
    since = job.opened_at - timedelta(days=school.warranty_days)
    mended = (
        Finding.objects.filter(
            job__horn=job.horn_id,
            job__state=RepairJob.State.DONE,
            job__closed_at__gte=since,
            job__closed_at__lte=job.opened_at,
            mended_at__isnull=False,
            fault__in=Finding.objects.filter(job=job).values("fault"),
        )
        .exclude(job=job)
        .select_related("job__technician", "job__opened_by")
        .order_by("job__closed_at", "pk")
    )
    found = {}
    for finding in mended:
        earlier = finding.job
        if earlier is not None and earlier.closed_at is not None and school.warranty_days:
            days = (job.opened_at - earlier.closed_at).days
            found[finding.fault] = Back(catalogue().fault(finding.fault), earlier, days)
    return list(found.values())
