"""Keys of the calendars that programs read. A key is revoked, never deleted."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.people.models import School, User


class CalendarKey(models.Model):
    """One person's secret address of a school's due dates, or of those of their own children's horns there.

    Only its hash is kept; a revoked one never opens again.
    """

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="calendar_keys")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="calendar_keys")
    for_family = models.BooleanField(default=False, db_default=False)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    read_on = models.DateField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        app_label = "loans"
        constraints = [
            models.UniqueConstraint(
                fields=["school", "user", "for_family"], condition=Q(revoked_at=None), name="one_calendar_address_each"
            ),
        ]
