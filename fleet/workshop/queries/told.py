"""What the workshop has to tell of horns: its share of what is kept on them, and the time line of one."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any

from django.db.models import Exists, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce, TruncDate
from django.utils import timezone

from fleet.register.models import Horn
from fleet.register.queries.told import StoryLine, sounded_since
from fleet.workshop.models import Care, ConditionCheck, FaultReport, Finding, JobStep, RepairJob
from fleet.workshop.models.faults import catalogue


def story(horn: Horn) -> list[StoryLine]:
    """Checks, families' reports, steps of repair jobs and care, newest first. Five queries, however long the story."""
    told = []
    for check in horn.checks.select_related("by").prefetch_related("findings"):
        found = [str(finding) for finding in check.findings.all()]
        occasion = "" if check.occasion == check.Occasion.OTHER else f", {check.get_occasion_display()}"
        sentence = f"Checked{occasion}: {check.get_grade_display()}"
        sentence += f" ({', '.join(found)})." if found else ", nothing found."
        told.append(StoryLine(check.at, "check", sentence, str(check.by), ("workshop:check", check.pk)))
    for step in JobStep.objects.filter(job__horn=horn).select_related("by"):
        told.append(
            StoryLine(step.at, "repair", f"Repair job: {step.words}.", str(step.by), ("workshop:job", step.job_id))
        )
    for report in FaultReport.objects.filter(horn=horn).select_related("by"):
        sentence = f"The family reports: {report.words}"
        told.append(StoryLine(report.at, "report", sentence, str(report.by), ("workshop:report", report.pk)))
    for care in Care.objects.filter(horn=horn).select_related("by"):
        at = datetime.combine(care.on, time(12), tzinfo=timezone.get_current_timezone())
        told.append(StoryLine(at, "care", f"{care.get_kind_display().capitalize()} done.", str(care.by), None))
    return sorted(told, key=lambda one: one.at, reverse=True)


def kept() -> dict[str, Any]:
    """The workshop's share of what is kept on a horn (see `register.queries.kept`)."""
    newest = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk")
    here = RepairJob.objects.open().filter(horn=OuterRef("pk"), state__in=RepairJob.IN_THE_WORKSHOP)
    away = RepairJob.objects.open().filter(horn=OuterRef("pk"), state=RepairJob.State.AWAY)
    looked_at = ConditionCheck.objects.filter(horn=OuterRef("horn_id"), at__gte=OuterRef("closed_at"))
    done = RepairJob.objects.filter(~Exists(looked_at), horn=OuterRef("pk"), state=RepairJob.State.DONE)
    asks = [fault.code for fault in catalogue().by_code.values() if fault.test_note]
    sounded = sounded_since(OuterRef("mended_at"), horn=OuterRef("check_made__horn_id"))
    mended = Finding.objects.filter(~Exists(sounded), check_made__horn=OuterRef("pk"), mended_at__isnull=False)
    return {
        "on_bench": Exists(here),
        "repairer": Coalesce(Subquery(away.values("repairer")[:1]), Value("")),
        "grade": Subquery(newest.values("grade")[:1]),
        "checked_on": Subquery(newest.annotate(day=TruncDate("at")).values("day")[:1]),
        "mended_on": Subquery(
            done.order_by("-closed_at", "-pk").annotate(day=TruncDate("closed_at")).values("day")[:1]
        ),
        "test_note_owed": Exists(mended.filter(fault__in=asks)),
    }
