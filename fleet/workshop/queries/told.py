"""What the bench has to tell of one horn, for its time line."""

from __future__ import annotations

from datetime import datetime, time

from django.utils import timezone

from fleet.register.models import Horn
from fleet.register.queries.told import StoryLine
from fleet.workshop.models import Care, FaultReport, JobStep


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
