"""Versions of the words that guardians sign."""

from __future__ import annotations

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext, ngettext

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
        """The words and, where there is a PDF with them, that it belongs to them. Words that a school wrote itself are
        the same in every language."""
        words = gettext(self.words)
        if not self.own:
            return words
        along = gettext("With %(own)s, which is part of this agreement.") % {"own": self.own_in_words}
        return f"{words}\n{along}"

    @property
    def own_in_words(self) -> str:
        """`the school’s own agreement of 3 May 2027, 2 pages`"""
        pages = ngettext("%(count)d page", "%(count)d pages", self.own_pages) % {"count": self.own_pages}
        said = {"day": day(timezone.localdate(self.made_at)), "pages": pages}
        return gettext("the school’s own agreement of %(day)s, %(pages)s") % said
