"""Condition checks, the findings made at them, and their pictures."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.register.models import Horn
from fleet.workshop.models.faults import Fault, catalogue
from fleet.workshop.models.fitted import in_words
from fleet.workshop.models.jobs import RepairJob
from fleet.workshop.models.measures import MOST_OF_ONE
from fleet.workshop.models.measures import in_words as figure_in_words


class ConditionCheckQuerySet(models.QuerySet["ConditionCheck"]):
    def at(self, school: School) -> ConditionCheckQuerySet:
        return self.filter(horn__school=school)


class ConditionCheck(models.Model):
    """One look over a horn. The playing grade is its worst finding, never an average; finish is another axis."""

    class Occasion(models.TextChoices):
        BEFORE_LOAN = "before-loan", _s_lazy("before a loan")
        ON_RETURN = "on-return", _s_lazy("on return")
        YEARLY = "yearly", _s_lazy("yearly")
        AFTER_REPAIR = "after-repair", _s_lazy("after a repair")
        OTHER = "other", _s_lazy("other")

    class FinishGrade(models.IntegerChoices):
        AS_NEW = 1, _s_lazy("as new")
        LIGHT = 2, _s_lazy("light wear")
        HEAVY = 3, _s_lazy("heavy wear")
        GONE = 4, _s_lazy("finish gone")

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="checks")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    occasion = models.CharField(max_length=12, choices=Occasion, default=Occasion.OTHER)
    grade = models.PositiveSmallIntegerField(_s_lazy("playing grade"), choices=Horn.Grade)
    finish_grade = models.PositiveSmallIntegerField(_s_lazy("finish"), choices=FinishGrade)
    notes = models.TextField(max_length=2000, blank=True)
    # When the site had it, where it was looked over earlier and waited for a connection.
    received_at = models.DateTimeField(null=True, blank=True)
    # Made by the browser that sends the check: sent again after a lost answer, it is still one check.
    sent_as = models.UUIDField(null=True, blank=True, editable=False)

    objects = ConditionCheckQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sent_as"],
                name="check_sent_once",
                violation_error_message=_s_lazy("This check is saved already."),
            ),
            models.CheckConstraint(condition=Q(grade__range=(1, 4)), name="check_grade_one_to_four"),
            models.CheckConstraint(condition=Q(finish_grade__range=(1, 4)), name="check_finish_one_to_four"),
        ]
        # With the grade in it, so that how a horn stood on a day is found along it.
        indexes = [models.Index(fields=["horn", "-at", "-id", "grade"], name="check_by_horn_graded")]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"check {self.pk}"

    @property
    def notes_in_words(self) -> str:
        """What was written of it; what we write ourselves is kept in English."""
        return gettext(self.notes) if self.notes else ""


def times(number: int | None, places: Sequence[str]) -> int:
    """How often a horn has a fault: at each place it was found, or as many as were counted; once where nobody said."""
    return max(1, number or 0, len(places))


class Finding(models.Model):
    """One fault found at a check. Its severity starts as the catalogue's and may be changed by who looked."""

    class Severity(models.TextChoices):
        NOTE = "n", _s_lazy("note")
        WATCH = "w", _s_lazy("watch")
        REPAIR = "r", _s_lazy("repair before loan")
        MUST_NOT_BE_PLAYED = "x", _s_lazy("must not be played")

    check_made = models.ForeignKey(ConditionCheck, on_delete=models.CASCADE, related_name="findings")
    # That of its horn; empty only of what the version before found while this one was put in place, for a night.
    school = models.ForeignKey(School, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
    fault = models.CharField(max_length=40)
    # Which of the horn's valves or slides have it, by their codes (`fitted.places`); empty where nobody said.
    places = models.JSONField(default=list, db_default=[])
    # How many there are, where the catalogue counts them, and what was measured, in its unit.
    number = models.PositiveSmallIntegerField(null=True, blank=True)
    measured = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    severity = models.CharField(max_length=1, choices=Severity)
    note = models.CharField(max_length=300, blank=True)
    job = models.ForeignKey(RepairJob, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings")
    mended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["check_made", "fault"],
                name="one_finding_a_fault",
                violation_error_message=_s_lazy("This fault is already on the check."),
            ),
            models.CheckConstraint(
                condition=Q(number=None) | Q(number__range=(1, MOST_OF_ONE)), name="finding_number_can_be"
            ),
            models.CheckConstraint(
                condition=Q(measured=None) | Q(measured__gte=0), name="finding_measure_not_negative"
            ),
            models.CheckConstraint(condition=Q(severity__in=["n", "w", "r", "x"]), name="severity_known"),
        ]
        indexes = [
            models.Index(fields=["school", "mended_at"], condition=Q(mended_at__isnull=False), name="finding_mended")
        ]

    def __str__(self) -> str:
        """`rotor leaking (1st and 3rd valve): 3 s`"""
        where = in_words(self.entry.at, self.places) or (
            gettext("%(count)d of them") % {"count": self.number} if (self.number or 0) > 1 else ""
        )
        words = gettext(self.entry.words)
        said = f"{words} ({where})" if where else words
        return f"{said}: {self.figure}" if self.figure else said

    @property
    def noted(self) -> str:
        """With what was written of it: `rotor leaking (since Monday)`."""
        return f"{self} ({self.note})" if self.note else str(self)

    @property
    def count(self) -> int:
        return times(self.number, self.places)

    @property
    def figure(self) -> str:
        """What was measured, with its unit; "" where nothing was."""
        if self.measured is None:
            return ""
        unit = self.entry.measure.unit if self.entry.measure else ""
        return f"{figure_in_words(self.measured)} {unit}".strip()

    @property
    def minutes(self) -> int | None:
        """What mending it usually takes, at all its places; None where nobody can say beforehand."""
        return self.entry.minutes and self.entry.minutes * self.count

    @property
    def entry(self) -> Fault:
        """What the catalogue says of this fault."""
        return catalogue().fault(self.fault)


class CheckPhotograph(models.Model):
    check_made = models.ForeignKey(ConditionCheck, on_delete=models.CASCADE, related_name="photographs")
    image = models.FileField(upload_to="checks/%Y/", max_length=200)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    caption = models.CharField(max_length=120, blank=True)
    # The fault of its check that it shows, by its code; empty where it shows the horn.
    fault = models.CharField(max_length=40, blank=True, default="", db_default="")

    def __str__(self) -> str:
        return self.caption or f"picture {self.pk}"

    @property
    def shows(self) -> str:
        """What it shows, in words: the fault, and what was written of it."""
        return ": ".join(filter(None, (self.fault and gettext(catalogue().fault(self.fault).words), self.caption)))
