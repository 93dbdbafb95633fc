"""What people found while counting that the register does not know."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.counting.models.counts import Count, OfACount
from fleet.counting.models.kept import SeenQuerySet
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User
from fleet.register.models import Horn, Place


class FindQuerySet(SeenQuerySet["Find"]):
    pass


class Find(OfACount):
    """Something seen on a shelf that the register does not know, under the words that were typed or scanned.

    It is kept until somebody says what it is, so that a horn found behind the timpani is not lost again.
    """

    class Resolution(models.TextChoices):
        HORN = "horn", _s_lazy("a horn of the register")
        NOT_OURS = "not-ours", _s_lazy("not the school’s")
        NOTHING = "nothing", _s_lazy("no horn: typed wrongly, or twice")

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

    objects = FindQuerySet.as_manager()

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
                violation_error_message=_s_lazy("What was found is resolved with a reason."),
            ),
            models.CheckConstraint(
                condition=Q(resolution="horn", horn__isnull=False) | ~Q(resolution="horn") & Q(horn=None),
                name="find_names_its_horn",
                violation_error_message=_s_lazy("Say which horn of the register it is."),
            ),
        ]
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words
