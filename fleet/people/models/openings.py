"""The log of who opened whose page."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.people.models.accounts import User
from fleet.people.models.families import Guardian, Pupil
from fleet.people.models.schools import School


class Opening(models.Model):
    """Who of the staff opened the page of a pupil or a guardian, or took a list along as a file or on paper, and when.

    Written by the pages, read by heads.
    """

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="openings")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    page = models.CharField(max_length=40)
    pupil = models.ForeignKey(Pupil, on_delete=models.CASCADE, null=True, related_name="openings")
    guardian = models.ForeignKey(Guardian, on_delete=models.CASCADE, null=True, related_name="openings")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pupil=None) | Q(guardian=None),
                name="opening_of_one_person_or_all",
            ),
        ]
        indexes = [models.Index(fields=["school", "-at"], name="opening_by_time")]
        ordering = ["-at", "-pk"]
