"""Condition checks, findings, reported faults and repair jobs."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.people.models import Pupil, School, User
from fleet.register.models import Horn
from fleet.workshop.care import Care
from fleet.workshop.faults import Fault, catalogue
from fleet.workshop.stock import Part

__all__ = [
    "Care",
    "CheckPhotograph",
    "ConditionCheck",
    "FaultReport",
    "Finding",
    "JobStep",
    "Part",
    "PartUsed",
    "RepairJob",
]


class ConditionCheckQuerySet(models.QuerySet["ConditionCheck"]):
    def at(self, school: School) -> ConditionCheckQuerySet:
        return self.filter(horn__school=school)

    def newest_first(self) -> ConditionCheckQuerySet:
        return self.order_by("-at", "-pk")


class ConditionCheck(models.Model):
    """One look over a horn. The playing grade is its worst finding, never an average; finish is another axis."""

    class Occasion(models.TextChoices):
        BEFORE_LOAN = "before-loan", "before a loan"
        ON_RETURN = "on-return", "on return"
        YEARLY = "yearly", "yearly"
        AFTER_REPAIR = "after-repair", "after a repair"
        OTHER = "other", "other"

    class FinishGrade(models.IntegerChoices):
        AS_NEW = 1, "as new"
        LIGHT = 2, "light wear"
        HEAVY = 3, "heavy wear"
        GONE = 4, "finish gone"

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="checks")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    occasion = models.CharField(max_length=12, choices=Occasion, default=Occasion.OTHER)
    grade = models.PositiveSmallIntegerField("playing grade", choices=Horn.Grade)
    finish_grade = models.PositiveSmallIntegerField("finish", choices=FinishGrade)
    notes = models.TextField(max_length=2000, blank=True)
    # Made by the browser that sends the check: sent again after a lost answer, it is still one check.
    sent_as = models.UUIDField(null=True, blank=True, editable=False)

    objects = ConditionCheckQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sent_as"],
                name="check_sent_once",
                violation_error_message="This check is saved already.",
            ),
            models.CheckConstraint(condition=Q(grade__range=(1, 4)), name="check_grade_one_to_four"),
            models.CheckConstraint(condition=Q(finish_grade__range=(1, 4)), name="check_finish_one_to_four"),
        ]
        indexes = [models.Index(fields=["horn", "-at"], name="check_by_horn")]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"check {self.pk}"


class RepairJobQuerySet(models.QuerySet["RepairJob"]):
    def at(self, school: School) -> RepairJobQuerySet:
        return self.filter(horn__school=school)

    def open(self) -> RepairJobQuerySet:
        return self.filter(closed_at=None)


class RepairJob(models.Model):
    """Work on one horn, from being noted to being done or given up. One open job a horn."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        BENCH = "bench", "on the bench"
        PARTS = "parts", "waiting for parts"
        AWAY = "away", "at the repairer's"
        DONE = "done", "done"
        GIVEN_UP = "given-up", "given up"

    OPEN = (State.WAITING, State.BENCH, State.PARTS, State.AWAY)
    IN_THE_WORKSHOP = (State.BENCH, State.PARTS, State.AWAY)

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="jobs")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    technician = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="jobs")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    closed_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(100_000)])
    parts = models.CharField(max_length=300, blank=True)
    cost = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    notes = models.TextField(max_length=4000, blank=True)
    # A repairer outside the school: what they ask, and where the horn is.
    repairer = models.CharField("outside repairer", max_length=120, blank=True)
    quote = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    sent_on = models.DateField("sent on", null=True, blank=True)
    expected_on = models.DateField("expected back on", null=True, blank=True)
    back_on = models.DateField("back on", null=True, blank=True)
    # What a head agreed to: a quote that rises above it needs agreeing to again.
    approved = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True, editable=False)
    approved_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    approved_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = RepairJobQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["horn"],
                condition=Q(closed_at=None),
                name="one_open_job_a_horn",
                violation_error_message="This horn already has an open repair job.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(closed_at__gte=F("opened_at")),
                name="job_closed_after_opened",
                violation_error_message="A job cannot end before it began.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, state__in=["waiting", "bench", "parts", "away"])
                | Q(closed_at__isnull=False, state__in=["done", "given-up"]),
                name="job_state_fits_its_end",
            ),
            models.CheckConstraint(
                condition=Q(cost=None) | Q(cost__gte=0),
                name="job_cost_not_negative",
                violation_error_message="A repair cannot cost less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(quote=None) | Q(quote__gte=0),
                name="job_quote_not_negative",
                violation_error_message="A quote cannot be less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(back_on=None) | Q(sent_on__isnull=False, back_on__gte=F("sent_on")),
                name="job_back_after_sent",
                violation_error_message="A horn cannot come back before it was sent.",
            ),
            models.CheckConstraint(
                condition=Q(sent_on=None) | ~Q(repairer=""),
                name="job_sent_to_somebody",
                violation_error_message="Say to which repairer the horn was sent.",
            ),
        ]
        indexes = [models.Index(fields=["horn", "-opened_at"], name="job_by_horn")]
        ordering = ["-opened_at", "-pk"]

    def __str__(self) -> str:
        return f"job {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    def needs_approval(self, limit: Decimal | None) -> bool:
        """Whether the quote is above the school's limit and above what a head has agreed to."""
        if limit is None or self.quote is None or self.quote <= limit:
            return False
        return self.approved is None or self.quote > self.approved


class JobStep(models.Model):
    """One change to a job: who, when, the state it left the job in, and in a few words what changed.

    The newest step is also what a page of the job was made from: who saves over a newer one is told first.
    """

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="steps")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=RepairJob.State)
    words = models.CharField(max_length=300)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words


class PartUsed(models.Model):
    """Pieces of a part that went into a job, at what one cost then."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="parts_used")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="used")
    count = models.PositiveIntegerField()
    cost_each = models.DecimalField(max_digits=8, decimal_places=2)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(count__gte=1), name="part_used_at_least_one")]
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.count} × {self.part}"

    @property
    def cost(self) -> Decimal:
        return self.count * self.cost_each


class Finding(models.Model):
    """One fault found at a check. Its severity starts as the catalogue's and may be changed by who looked."""

    class Severity(models.TextChoices):
        NOTE = "n", "note"
        WATCH = "w", "watch"
        REPAIR = "r", "repair before loan"
        WITHDRAW = "x", "withdraw"

    check_made = models.ForeignKey(ConditionCheck, on_delete=models.CASCADE, related_name="findings")
    fault = models.CharField(max_length=40)
    severity = models.CharField(max_length=1, choices=Severity)
    note = models.CharField(max_length=300, blank=True)
    job = models.ForeignKey(RepairJob, on_delete=models.SET_NULL, null=True, blank=True, related_name="findings")
    mended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["check_made", "fault"],
                name="one_finding_a_fault",
                violation_error_message="This fault is already on the check.",
            ),
            models.CheckConstraint(condition=Q(severity__in=["n", "w", "r", "x"]), name="severity_known"),
        ]

    def __str__(self) -> str:
        return self.entry.words

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

    def __str__(self) -> str:
        return self.caption or f"picture {self.pk}"


class FaultReportQuerySet(models.QuerySet["FaultReport"]):
    def at(self, school: School) -> FaultReportQuerySet:
        return self.filter(horn__school=school)

    def unanswered(self) -> FaultReportQuerySet:
        return self.filter(answered_at=None)


class FaultReport(models.Model):
    """What a family says is wrong with the horn in their care, and what became of it."""

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="fault_reports")
    pupil = models.ForeignKey(Pupil, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    words = models.CharField(max_length=1000)
    still_plays = models.BooleanField(default=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=300, blank=True)
    job = models.ForeignKey(RepairJob, on_delete=models.SET_NULL, null=True, blank=True, related_name="fault_reports")

    objects = FaultReportQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["horn", "at"], condition=Q(answered_at=None), name="report_unanswered"),
        ]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.words
