"""A count, the lines of its frozen list, the sightings people made, and what they found that the register does not
know. Nothing of a signed count is changed."""

from __future__ import annotations

from datetime import date
from typing import Any, NoReturn

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from fleet.people.models import School, User
from fleet.register.models import Horn, Place

KEPT = "A count is kept as it is."
# A count open for longer than this has a list nobody can still hold against the shelf: an estimate, no source.
OLD_AFTER_DAYS = 30


class KeptQuerySet(models.QuerySet[Any]):
    """Rows of a count: none is ever taken away."""

    def delete(self) -> NoReturn:
        raise ValidationError(KEPT)


class CountQuerySet(KeptQuerySet):
    def at(self, school: School) -> CountQuerySet:
        return self.filter(school=school)

    def open(self) -> CountQuerySet:
        return self.filter(ended_at=None)

    def unsigned(self) -> CountQuerySet:
        return self.filter(signed_at=None)


class Count(models.Model):
    """One count: of everything, of some places, or of a random sample. Open, then ended, then signed."""

    class Kind(models.TextChoices):
        EVERYTHING = "everything", "everything"
        PLACES = "places", "some places"
        SAMPLE = "sample", "a sample"

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="counts")
    kind = models.CharField(max_length=12, choices=Kind)
    title = models.CharField(max_length=200)
    places = models.ManyToManyField(Place, related_name="+", blank=True)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    # A sample's own: how many horns it stands for, and what it was drawn with so that it can be drawn again.
    population = models.PositiveIntegerField(null=True)
    confidence = models.PositiveSmallIntegerField("per cent", null=True)
    margin = models.PositiveSmallIntegerField("per cent either way", null=True)
    seed = models.BigIntegerField(null=True)

    objects = CountQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None) | Q(ended_at__gte=F("started_at"), ended_by__isnull=False),
                name="count_ends_after_it_began",
                violation_error_message="A count cannot end before it began.",
            ),
            models.CheckConstraint(
                condition=Q(signed_at=None, signed_by=None)
                | Q(signed_at__gte=F("ended_at"), signed_by__isnull=False, ended_at__isnull=False),
                name="count_ended_before_signed",
                violation_error_message="A count is ended first, then signed.",
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
            _keep_signed(self.pk)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)

    @property
    def is_open(self) -> bool:
        return self.ended_at is None

    @property
    def is_sample(self) -> bool:
        return self.kind == self.Kind.SAMPLE

    @property
    def state(self) -> str:
        if self.signed_at:
            return "signed"
        return "being counted" if self.is_open else "to be resolved and signed"

    def days_open(self, today: date) -> int:
        return (today - timezone.localdate(self.started_at)).days

    def has_grown_old(self, today: date) -> bool:
        """Whether it has been open so long that nobody can still hold its list against the shelf."""
        return self.is_open and self.days_open(today) > OLD_AFTER_DAYS


class Line(models.Model):
    """One horn of a count. What the register said when the list was frozen is kept; no pupil's name is.

    `outcome` is written once, when the counting ends.
    """

    class Outcome(models.TextChoices):
        SEEN = "seen", "seen"
        ELSEWHERE = "elsewhere", "seen elsewhere"
        TWICE = "twice", "seen in two places"
        NOT_FOUND = "not-found", "not found"
        NOT_EXPECTED = "not-expected", "not expected"
        AWAY = "away", "away, as the register says"
        WENT = "went", "went out during the count"

    class Resolution(models.TextChoices):
        MISSING = "missing", "recorded as not found"
        FOUND = "found", "recorded as found"
        MOVED = "moved", "its place in the register is changed"
        PUT_BACK = "put-back", "put back where it belongs"
        EXPLAINED = "explained", "left as it is"

    DIFFERENCES = (Outcome.NOT_FOUND, Outcome.NOT_EXPECTED, Outcome.TWICE, Outcome.ELSEWHERE)

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="lines")
    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, related_name="count_lines")
    expected = models.BooleanField(default=True)
    number = models.CharField(max_length=24)
    kind = models.CharField(max_length=120, blank=True)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, related_name="+")
    place_words = models.CharField(max_length=125, blank=True)
    where_at_start = models.CharField(max_length=10, choices=Horn.Where)
    where_at_end = models.CharField(max_length=10, choices=Horn.Where, blank=True)
    outcome = models.CharField(max_length=12, choices=Outcome, blank=True)
    resolution = models.CharField(max_length=12, choices=Resolution, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    resolved_at = models.DateTimeField(null=True)
    resolved_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    objects = KeptQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "horn"], name="one_line_a_horn"),
            models.CheckConstraint(
                condition=Q(resolution="", reason="", resolved_at=None, resolved_by=None)
                | ~Q(resolution="") & ~Q(reason="") & Q(resolved_at__isnull=False, resolved_by__isnull=False),
                name="line_resolved_with_reason",
                violation_error_message="A difference is resolved with a reason.",
            ),
            models.CheckConstraint(
                condition=Q(resolution="") | Q(outcome__in=["not-found", "not-expected", "twice", "elsewhere"]),
                name="line_only_differences_resolved",
            ),
        ]
        indexes = [models.Index(fields=["count", "place"], name="line_by_place")]
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: Any, **kwargs: Any) -> None:
        _keep_signed(self.count_id)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)

    @property
    def is_difference(self) -> bool:
        return self.outcome in self.DIFFERENCES


class SightingQuerySet(KeptQuerySet):
    def standing(self) -> SightingQuerySet:
        """Sightings that nobody took back."""
        return self.filter(undone_at=None)


class Sighting(models.Model):
    """Somebody saw a horn at a place. `key` is made where it was tapped, so that sending it again adds nothing.

    `seen_at` is the server's time less how long the phone says it waited: phones' clocks disagree.
    """

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="sightings")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="sightings")
    key = models.CharField(max_length=64)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, related_name="+")
    place_words = models.CharField(max_length=125, blank=True)
    note = models.CharField(max_length=300, blank=True)
    seen_at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    objects = SightingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "key"], name="sighting_sent_once"),
            models.CheckConstraint(condition=Q(seen_at__lte=F("received_at")), name="sighting_seen_before_received"),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None) | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="sighting_undone_by_somebody",
            ),
        ]
        indexes = [models.Index(fields=["by", "-received_at"], name="sighting_by_person")]
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.line)

    def save(self, *args: Any, **kwargs: Any) -> None:
        _keep_signed(self.count_id)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)


class Find(models.Model):
    """Something seen on a shelf that the register does not know, under the words that were typed or scanned.

    It is kept until somebody says what it is, so that a horn found behind the timpani is not lost again.
    """

    class Resolution(models.TextChoices):
        HORN = "horn", "a horn of the register"
        NOT_OURS = "not-ours", "not the school’s"
        NOTHING = "nothing", "no horn: typed wrongly, or twice"

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="finds")
    key = models.CharField(max_length=64)
    words = models.CharField(max_length=200)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, related_name="+")
    place_words = models.CharField(max_length=125, blank=True)
    seen_at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True)
    undone_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, null=True, related_name="found_as")
    resolution = models.CharField(max_length=12, choices=Resolution, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    resolved_at = models.DateTimeField(null=True)
    resolved_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    objects = SightingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["count", "key"], name="find_sent_once"),
            models.CheckConstraint(condition=Q(seen_at__lte=F("received_at")), name="find_seen_before_received"),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None) | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="find_undone_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(resolution="", reason="", resolved_at=None, resolved_by=None)
                | ~Q(resolution="") & ~Q(reason="") & Q(resolved_at__isnull=False, resolved_by__isnull=False),
                name="find_resolved_with_reason",
                violation_error_message="What was found is resolved with a reason.",
            ),
            models.CheckConstraint(
                condition=Q(resolution="horn", horn__isnull=False) | ~Q(resolution="horn") & Q(horn=None),
                name="find_names_its_horn",
                violation_error_message="Say which horn of the register it is.",
            ),
        ]
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words

    def save(self, *args: Any, **kwargs: Any) -> None:
        _keep_signed(self.count_id)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise ValidationError(KEPT)


def _keep_signed(count: int) -> None:
    # Asked anew: the count in hand may be older than its signature.
    if Count.objects.filter(pk=count, signed_at__isnull=False).exists():
        raise ValidationError(KEPT)
