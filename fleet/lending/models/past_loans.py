"""Loans of before, as an older list tells them."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.people.models import Pupil
from fleet.register.models import Horn


class PastLoan(models.Model):
    """A loan that ended before the school kept its loans here, as an older list tells it.

    Nobody signed here and nobody looked the horn over, so it is no `Loan`; it only lengthens the horn's story.
    """

    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, related_name="past_loans")
    pupil = models.ForeignKey(Pupil, on_delete=models.PROTECT, related_name="past_loans")
    issued_on = models.DateField("issued on")
    returned_on = models.DateField("returned on")
    notes = models.CharField(max_length=300, blank=True)

    class Meta:
        verbose_name = "past loan"
        constraints = [
            models.UniqueConstraint(
                fields=["horn", "issued_on"],
                name="past_loan_once",
                violation_error_message="A past loan of this horn from this day is already on record.",
            ),
            models.CheckConstraint(
                condition=Q(returned_on__gte=F("issued_on")),
                name="past_loan_ends_after_issue",
                violation_error_message="A horn cannot come back before it was issued.",
            ),
        ]
        ordering = ["-issued_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.horn} to {self.pupil}"
