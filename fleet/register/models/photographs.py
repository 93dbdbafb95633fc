"""Photographs of the horns themselves."""

from __future__ import annotations

from django.db import models

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User


class Photograph(models.Model):
    """A picture of the horn itself, drawn anew from its pixels so that nothing hidden in the file is kept."""

    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="photographs")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    image = models.FileField(upload_to="horns/%Y/", max_length=200)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(max_length=120, blank=True)
    # Made by the browser that sends it: sent again after a lost answer, it is still one photograph.
    sent_as = models.UUIDField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sent_as"],
                name="photograph_sent_once",
                violation_error_message=_s_lazy("This photograph is kept already."),
            ),
        ]
        ordering = ["-at", "-pk"]
