"""The days of a school year on which there is no school."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import F, Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models.schools import School


class Holiday(models.Model):
    """Days without school in a row, the last one among them. Saturdays and Sundays need none."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="holidays")
    name = models.CharField(max_length=60)
    first = models.DateField(_s_lazy("first day"))
    last = models.DateField(_s_lazy("last day"))

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="holiday_in_order",
                violation_error_message=_s_lazy("The last day comes before the first."),
            ),
            # Whoever looks for the next school day goes on after the last day.
            models.CheckConstraint(
                condition=Q(first__gte=date(1900, 1, 1), last__lte=date(2200, 12, 31)),
                name="holiday_in_our_time",
                violation_error_message=_s_lazy("Look at the years again."),
            ),
        ]
        ordering = ["first", "pk"]

    def __str__(self) -> str:
        return self.name
