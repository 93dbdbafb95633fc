"""The two checks around a repair: the newest up to its opening, and the first after its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.workshop.models import CheckPhotograph, ConditionCheck, Finding, RepairJob
from fleet.workshop.queries.condition import newest_of_each


@dataclass(frozen=True, slots=True)
class Look:
    """One check as the report shows it."""

    check: ConditionCheck
    findings: Sequence[Finding]
    photographs: Sequence[CheckPhotograph]


def before_and_after(job: RepairJob) -> tuple[Look | None, Look | None]:
    """The newest check up to the job's opening, and the first after its end. Six queries at most."""
    checks = ConditionCheck.objects.filter(horn=job.horn_id).select_related("by")
    before = checks.filter(at__lte=job.opened_at).order_by("-at", "-pk").first()
    after = checks.filter(at__gt=job.closed_at).order_by("at", "pk").first() if job.closed_at else None
    return _look(before), _look(after)


def _look(check: ConditionCheck | None) -> Look | None:
    if check is None:
        return None
    return Look(check, newest_of_each(check.findings.all()), list(check.photographs.order_by("pk")))
