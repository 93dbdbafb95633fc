"""The places where horns are kept."""

from __future__ import annotations

from django.db import models
from django.db.models.functions import Lower

from fleet.people.models import School


class Place(models.Model):
    """Where horns are kept: a room, and a shelf in it where there are several."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="places")
    room = models.CharField(max_length=60)
    shelf = models.CharField(max_length=60, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "school",
                Lower("room"),
                Lower("shelf"),
                name="place_unique",
                violation_error_message="There is already a place with this room and shelf.",
            ),
        ]
        ordering = ["room", "shelf", "pk"]

    def __str__(self) -> str:
        return f"{self.room}, {self.shelf}" if self.shelf else self.room
