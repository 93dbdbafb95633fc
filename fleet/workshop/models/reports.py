"""What a family says is wrong with the horn in their care, and what became of it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.people.models import Pupil, School, User
from fleet.register.models import Horn
from fleet.workshop.models.jobs import RepairJob


class FaultReportQuerySet(models.QuerySet["FaultReport"]):
    def at(self, school: School) -> FaultReportQuerySet:
        return self.filter(horn__school=school)

    def unanswered(self) -> FaultReportQuerySet:
        return self.filter(answered_at=None)

    def most_pressing_first(self) -> FaultReportQuerySet:
        """Of a horn that does not play first, then who has waited longest."""
        return self.order_by("still_plays", "at", "pk")


class FaultReport(models.Model):
    """What a family says is wrong with the horn in their care, and what became of it."""

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="fault_reports")
    pupil = models.ForeignKey(Pupil, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=1000)
    still_plays = models.BooleanField(default=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=300, blank=True)
    job = models.ForeignKey(RepairJob, on_delete=models.SET_NULL, null=True, blank=True, related_name="fault_reports")

    objects = FaultReportQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["horn", "at"], condition=Q(answered_at=None), name="report_unanswered"),
        ]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.words

    @property
    def taken_back(self) -> bool:
        """Whether who reported it took it back before the school answered."""
        return self.answered_by_id == self.by_id and not self.answer and self.job_id is None
