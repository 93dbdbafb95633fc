"""The places where horns are kept."""

from __future__ import annotations

from django.db import models
from django.db.models.functions import Lower

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import in_reading_order
from fleet.people.models import School
from fleet.people.models.searched import Derived


class Place(Derived):
    """Where horns are kept: a room, and a shelf in it where there are several."""

    DERIVED = ("sorted_by",)

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="places")
    room = models.CharField(max_length=60)
    shelf = models.CharField(max_length=60, blank=True)
    sorted_by = models.CharField(max_length=800, default="", db_default="", editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "school",
                Lower("room"),
                Lower("shelf"),
                name="place_unique",
                violation_error_message=_s_lazy("There is already a place with this room and shelf."),
            ),
        ]
        # The first places where something is asked for are found without asking it of all.
        indexes = [models.Index(fields=["school", "sorted_by", "id"], name="place_in_order")]
        ordering = ["sorted_by", "pk"]

    def derive(self) -> None:
        self.sorted_by = in_reading_order(self.room, self.shelf)[:800]

    def __str__(self) -> str:
        return f"{self.room}, {self.shelf}" if self.shelf else self.room
