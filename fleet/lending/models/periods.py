"""Due dates that were moved. Appended, never rewritten."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User


class LoanPeriod(models.Model):
    """A due date that was moved: on by a renewal, forward by a recall. The loan itself holds the date in force."""

    class Kind(models.TextChoices):
        RENEWED = "renewed", _s_lazy("renewed")
        RECALLED = "recalled", _s_lazy("recalled")

    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, related_name="periods")
    kind = models.CharField(max_length=8, choices=Kind)
    due_before = models.DateField()
    due_on = models.DateField(_s_lazy("due back on"))
    reason = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="renewed", due_on__gt=F("due_before"))
                | Q(kind="recalled", due_on__lt=F("due_before")),
                name="renewed_later_recalled_sooner",
                violation_error_message=_s_lazy("A renewal ends later than before, a recall sooner."),
            ),
        ]
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.kind} until {self.due_on}"
