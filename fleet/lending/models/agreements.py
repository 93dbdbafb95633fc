"""Versions of the words that guardians sign."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from fleet.ground.wording import day
from fleet.people.models import School, User


class Agreement(models.Model):
    """One version of the words a guardian signs. A version that has been signed is never rewritten."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="agreements")
    version = models.PositiveIntegerField()
    words = models.TextField(max_length=4000)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    # The school's own agreement as a PDF, which is part of this version; each version has a file of its own.
    own = models.FileField(upload_to="agreements/%Y/", max_length=200, blank=True, default="", db_default="")
    own_pages = models.PositiveSmallIntegerField(default=0, db_default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["school", "version"], name="agreement_version_unique"),
        ]
        ordering = ["-version"]

    def __str__(self) -> str:
        return f"version {self.version}"

    @property
    def in_full(self) -> str:
        """The words and, where there is a PDF with them, that it belongs to them."""
        return f"{self.words}\nWith {self.own_in_words}, which is part of this agreement." if self.own else self.words

    @property
    def own_in_words(self) -> str:
        """`the school’s own agreement of 3 May 2027, 2 pages`"""
        pages = "1 page" if self.own_pages == 1 else f"{self.own_pages} pages"
        return f"the school’s own agreement of {day(timezone.localdate(self.made_at))}, {pages}"
