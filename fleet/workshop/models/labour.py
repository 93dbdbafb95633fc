"""Work ordered on a job, what a school reckons for each, and the stretches of work that the clock has measured."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _s

from fleet.people.models import School, User
from fleet.workshop.models.jobs import RepairJob
from fleet.workshop.models.works import KnownWork, work

# A clock that ran longer was forgotten: nobody works so long on one horn without a break.
LONGEST_SITTING = timedelta(hours=4)


class LabourPrice(models.Model):
    """What a work takes and costs at a school: its minutes instead of the catalogue's, its price instead of the
    hour's."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="labour_prices")
    work = models.CharField(max_length=40)
    minutes = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(100_000)])
    price = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["school", "work"], name="labour_price_once"),
            models.CheckConstraint(condition=Q(price=None) | Q(price__gte=0), name="labour_price_not_negative"),
        ]

    def __str__(self) -> str:
        return work(self.work).words


class WorkOrdered(models.Model):
    """One work that a job is to have, with the minutes and the price that stood when it was ordered."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="works")
    work = models.CharField(max_length=40)
    minutes = models.PositiveIntegerField(null=True, blank=True)
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "work"], name="work_ordered_once")]
        ordering = ["pk"]

    def __str__(self) -> str:
        return _s(self.entry.words)

    @property
    def entry(self) -> KnownWork:
        return work(self.work)


class Sitting(models.Model):
    """One stretch of work on a job, from a press on the clock to the next. `minutes` is what counts of it."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="sittings")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="sittings")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["by"], condition=Q(ended_at=None), name="one_clock_a_person"),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gte=F("began_at")), name="sitting_ends_after_it_began"
            ),
        ]
        ordering = ["began_at", "pk"]

    def __str__(self) -> str:
        return f"sitting {self.pk}"

    def lasted(self, now: datetime) -> timedelta:
        """Until it ended, or until now; nothing where the clocks of two servers disagree."""
        return max((self.ended_at or now) - self.began_at, timedelta())

    def was_forgotten(self, now: datetime) -> bool:
        return self.lasted(now) > LONGEST_SITTING
