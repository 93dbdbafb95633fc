"""What happened to horns: renumbered, identified, said by hand, restrung, withdrawn or found. Events are appended;
the horn's columns they move are written in the same transaction.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper
from django.utils import timezone

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.register.models.numbers import TAKEN, parts_of


class FormerNumber(models.Model):
    """A number a horn once had. It stays reserved, since labels and papers may still carry it."""

    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="+")
    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="former_numbers")
    number = models.CharField(max_length=24)
    number_stem = models.CharField(max_length=24, editable=False)
    number_tail = models.BigIntegerField(editable=False)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "school", Upper("number"), name="former_number_unique", violation_error_message=TAKEN
            ),
        ]
        indexes = [models.Index(fields=["school", "number_stem", "number_tail"], name="former_by_number")]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.number_stem, self.number_tail = parts_of(self.number)
        super().save(*args, **kwargs)


class Identification(models.Model):
    """What was observed of a horn, by whom and when, and what it was taken to be.

    The observations are kept raw, as the walk's own parameters, so that the verdict can be computed again
    when the catalogue improves; `build` and `stands_in` are what the person confirmed at the time.
    """

    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="identifications")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    observations = models.JSONField(default=dict)
    build = models.CharField(max_length=40)
    stands_in = models.CharField(max_length=12, blank=True)
    settled = models.BooleanField(default=False)
    # Whether it may count towards what is common at the school.
    teaches = models.BooleanField(default=True, db_default=True)
    probability = models.FloatField(default=0.0)
    # Made by the browser that sends the walk: sent again after a lost answer, it is still one finding.
    sent_as = models.UUIDField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sent_as"],
                name="walk_sent_once",
                violation_error_message=_s_lazy("This walk is on record already."),
            ),
        ]
        indexes = [models.Index(fields=["horn", "-at"], name="identification_by_horn")]
        ordering = ["-at", "-pk"]


class KindSaid(models.Model):
    """What a horn is, and how it stands, typed by somebody instead of found by the checks. Empty: not identified."""

    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="kinds_said")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    build = models.CharField(max_length=40, blank=True)
    stands_in = models.CharField(max_length=12, blank=True)
    build_before = models.CharField(max_length=40, blank=True)
    stands_in_before = models.CharField(max_length=12, blank=True)

    class Meta:
        verbose_name = _s_lazy("kind said by hand")
        verbose_name_plural = _s_lazy("kinds said by hand")
        constraints = [
            models.CheckConstraint(
                condition=~Q(build=F("build_before"), stands_in=F("stands_in_before")), name="kind_really_said"
            ),
        ]
        ordering = ["-at", "-pk"]


class StandChange(models.Model):
    """A reversible horn strung the other way round. The test note is owed until it has been sounded again."""

    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="stand_changes")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    before = models.CharField(max_length=12, blank=True)
    after = models.CharField(max_length=12)
    reason = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(before=F("after")),
                name="stand_really_changed",
                violation_error_message=_s_lazy("The horn already stands in this key."),
            ),
        ]
        ordering = ["-at", "-pk"]


class Standing(models.Model):
    """A horn leaves the register's ordinary life or comes back to it: withdrawn, not found, found, kept again. One that
    never was, entered by mistake, is struck out: withdrawn, and in no list at all."""

    class Kind(models.TextChoices):
        WITHDRAWN = "withdrawn", _s_lazy("withdrawn")
        KEPT_AGAIN = "kept-again", _s_lazy("kept again")
        NOT_FOUND = "not-found", _s_lazy("not found")
        FOUND = "found", _s_lazy("found")
        STRUCK_OUT = "struck-out", _s_lazy("struck out, entered by mistake")

    horn = models.ForeignKey("register.Horn", on_delete=models.CASCADE, related_name="standings")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=Kind)
    # The day it holds from, in the school's time zone; what was recorded late has an earlier one.
    # None until it is saved; the database's own day is for code of the release before, which gives none.
    on = models.DateField(
        default=None,
        db_default=models.Func(function="CURRENT_DATE", template="%(function)s", output_field=models.DateField()),
    )
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["-at", "-pk"]

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.complete()
        super().save(*args, **kwargs)

    def complete(self) -> None:
        """The day it was recorded where no other is given, as in files written before there was one."""
        if self.on is None:
            self.on = timezone.localdate(self.at)
