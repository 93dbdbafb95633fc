"""Versions of the words that guardians sign."""

from __future__ import annotations

from django.db import models
from django.utils import timezone
from django.utils.translation import get_language, gettext, ngettext
from django.utils.translation import gettext as _s

from fleet.ground.languages.known import Language, is_ours, others_of
from fleet.ground.wording import day
from fleet.people.models import School, User


class Agreement(models.Model):
    """One version of the words a guardian signs. A version that has been signed is never rewritten."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="agreements")
    version = models.PositiveIntegerField()
    # In the school's own language; what it wrote in others goes by their codes.
    words = models.TextField(max_length=4000)
    in_languages = models.JSONField(default=dict, db_default={})
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
        return _s("version %(version)s") % {"version": self.version}

    @property
    def spoken(self) -> str:
        """The words in the language that is spoken now, else as the school wrote them in its own."""
        written: str = self.in_languages.get(get_language() or "", "")
        return written or gettext(self.words)

    def lacking(self, school: School) -> list[Language]:
        """The languages of its families, besides its own, in which the school has not written it."""
        if is_ours(self.words):
            return []
        others = others_of(school.languages, school.language)
        return [one for one in others if not self.in_languages.get(one.code)]

    @property
    def in_full(self) -> str:
        """The words that are spoken and, where there is a PDF with them, that it belongs to them."""
        words = self.spoken
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
