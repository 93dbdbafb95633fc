"""Counts. Nothing of a signed count is changed."""

from __future__ import annotations

from datetime import date
from typing import Any, NoReturn

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.counting.models.kept import KEPT, KeptQuerySet
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.register.models import Place

# A count open for longer than this has a list nobody can still hold against the shelf: an estimate, no source.
OLD_AFTER_DAYS = 30


class CountQuerySet(KeptQuerySet["Count"]):
    def at(self, school: School) -> CountQuerySet:
        return self.filter(school=school)

    def open(self) -> CountQuerySet:
        return self.filter(ended_at=None)

    def unsigned(self) -> CountQuerySet:
        return self.filter(signed_at=None)


class Count(models.Model):
    """One count: of everything, of some places, or of a random sample. Open, then ended, then signed."""

    class Kind(models.TextChoices):
        EVERYTHING = "everything", _s_lazy("everything")
        PLACES = "places", _s_lazy("some places")
        SAMPLE = "sample", _s_lazy("a sample")

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="counts")
    kind = models.CharField(max_length=12, choices=Kind)
    # In English, as the record tells it.
    title = models.CharField(max_length=200)
    # As the places were called when it began, as many as an English title has room for.
    place_words = models.CharField(max_length=191, blank=True, default="", db_default="")
    places = models.ManyToManyField(Place, related_name="+", blank=True)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    # A sample's own: how many horns it stands for, how many were drawn, and with what, to draw them again.
    population = models.PositiveIntegerField(null=True)
    drawn = models.PositiveIntegerField(null=True)
    confidence = models.PositiveSmallIntegerField(_s_lazy("per cent"), null=True)
    margin = models.PositiveSmallIntegerField(_s_lazy("per cent either way"), null=True)
    seed = models.BigIntegerField(null=True)

    objects = CountQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__gte=F("started_at"), ended_by__isnull=False),
                name="count_ends_after_it_began",
                violation_error_message=_s_lazy("A count cannot end before it began."),
            ),
            models.CheckConstraint(
                condition=Q(signed_at=None, signed_by=None)
                | Q(signed_at__gte=F("ended_at"), signed_by__isnull=False, ended_at__isnull=False),
                name="count_ended_before_signed",
                violation_error_message=_s_lazy("A count is ended first, then signed."),
            ),
            models.CheckConstraint(
                condition=Q(kind="sample", population__isnull=False, confidence__range=(50, 99), seed__isnull=False)
                & Q(margin__range=(1, 50))
                | ~Q(kind="sample") & Q(population=None, confidence=None, margin=None, seed=None),
                name="count_sample_says_how_drawn",
            ),
        ]
        indexes = [models.Index(fields=["school", "-started_at", "id"], name="count_by_school")]
        ordering = ["-started_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk:
            keep_signed(self.pk)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)

    def complete(self) -> None:
        """Rows of a file that was written before there were these columns."""
        if not self.place_words and self.drawn is None:
            self.place_words, self.drawn = read_title(self.kind, self.title)

    @property
    def in_words(self) -> str:
        """What it is a count of, in the reader's language."""
        if self.kind == self.Kind.EVERYTHING:
            return _s("Count of everything")
        if self.place_words:
            return _s("Count of %(places)s") % {"places": self.place_words}
        if self.drawn is None:
            # Begun by the last release while this one was being put in place.
            return self.title
        of = self.population or 0
        said = _s_many("Sample of %(drawn)s from %(horns)s horn", "Sample of %(drawn)s from %(horns)s horns", of)
        return said % {"drawn": self.drawn, "horns": of}

    @property
    def is_open(self) -> bool:
        return self.ended_at is None

    @property
    def is_sample(self) -> bool:
        return self.kind == self.Kind.SAMPLE

    @property
    def state(self) -> str:
        if self.signed_at:
            return _s("signed")
        return _s("being counted") if self.is_open else _s("to be resolved and signed")

    def days_open(self, today: date) -> int:
        return (today - timezone.localdate(self.started_at)).days

    def has_grown_old(self, today: date) -> bool:
        """Whether it has been open so long that nobody can still hold its list against the shelf."""
        return self.is_open and self.days_open(today) > OLD_AFTER_DAYS


def read_title(kind: str, title: str) -> tuple[str, int | None]:
    """The places and how many horns were drawn, of a count begun before there were columns for them."""
    if kind == Count.Kind.PLACES:
        return title.removeprefix("Count of "), None
    return "", next((int(word) for word in title.split() if word.isdecimal()), None)


class OfACount(models.Model):
    """A row of a count: none changes once the count is signed, and none is ever taken away."""

    count: models.ForeignKey[Count, Count]
    count_id: int

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        keep_signed(self.count_id)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)


def keep_signed(count: int) -> None:
    # Asked anew: the count in hand may be older than its signature.
    if Count.objects.filter(pk=count, signed_at__isnull=False).exists():
        raise ValidationError(KEPT)
