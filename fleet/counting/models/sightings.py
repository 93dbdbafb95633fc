"""The lines of a count's frozen list, and the sightings people made."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.counting.models.counts import Count, OfACount
from fleet.counting.models.kept import KeptQuerySet, SeenQuerySet
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User
from fleet.register.models import Horn, Place


class Line(OfACount):
    """One horn of a count. What the register said when the list was frozen is kept; no pupil's name is.

    `outcome` is written once, when the counting ends.
    """

    class Outcome(models.TextChoices):
        SEEN = "seen", _s_lazy("seen")
        ELSEWHERE = "elsewhere", _s_lazy("seen elsewhere")
        TWICE = "twice", _s_lazy("seen in two places")
        NOT_FOUND = "not-found", _s_lazy("not found")
        NOT_EXPECTED = "not-expected", _s_lazy("not expected")
        AWAY = "away", _s_lazy("away, as the register says")
        WENT = "went", _s_lazy("went out during the count")

    class Resolution(models.TextChoices):
        MISSING = "missing", _s_lazy("recorded as not found")
        FOUND = "found", _s_lazy("recorded as found")
        MOVED = "moved", _s_lazy("its place in the register is changed")
        PUT_BACK = "put-back", _s_lazy("put back where it belongs")
        EXPLAINED = "explained", _s_lazy("left as it is")

    # Out by the register itself: nobody had to see these.
    GONE = (Outcome.AWAY, Outcome.WENT)
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
                violation_error_message=_s_lazy("A difference is resolved with a reason."),
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

    @property
    def is_difference(self) -> bool:
        return self.outcome in self.DIFFERENCES


class SightingQuerySet(SeenQuerySet["Sighting"]):
    pass


class Sighting(OfACount):
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
