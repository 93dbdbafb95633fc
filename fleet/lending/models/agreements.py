"""Versions of the words that guardians sign."""

from __future__ import annotations

from django.db import models

from fleet.people.models import School, User


class Agreement(models.Model):
    """One version of the words a guardian signs. A version that has been signed is never rewritten."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="agreements")
    version = models.PositiveIntegerField()
    words = models.TextField(max_length=4000)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["school", "version"], name="agreement_version_unique"),
        ]
        ordering = ["-version"]

    def __str__(self) -> str:
        return f"version {self.version}"
