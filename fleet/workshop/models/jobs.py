"""Repair jobs, the steps they went through, and the parts that went into them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.ground.due import DueDay, over
from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.register.models import Horn
from fleet.workshop.models.parts import Part


class RepairJobQuerySet(models.QuerySet["RepairJob"]):
    def at(self, school: School) -> RepairJobQuerySet:
        return self.filter(school=school)

    def open(self) -> RepairJobQuerySet:
        return self.filter(closed_at=None)

    def late(self, today: date) -> RepairJobQuerySet:
        """At the repairer's the day after it was expected back and later."""
        return self.open().filter(over("expected_on", today), state=RepairJob.State.AWAY)

    def brought(self) -> RepairJobQuerySet:
        """Whose horn came from a running loan to be mended, and has not gone back."""
        return self.filter(brought_at__isnull=False, fetched_at=None)

    def to_approve(self, limit: Decimal | None) -> RepairJobQuerySet:
        """Jobs whose quote, while they are open, or whose cost is above the limit and above what a head agreed to."""
        if limit is None:
            return self.none()
        quoted = Q(closed_at=None, quote__gt=limit) & (Q(approved=None) | Q(quote__gt=F("approved")))
        billed = Q(cost__gt=limit) & (Q(approved=None) | Q(cost__gt=F("approved")))
        return self.filter(quoted | billed)


class RepairJob(models.Model):
    """Work on one horn, from being noted to being done or given up. One open job a horn."""

    class State(models.TextChoices):
        WAITING = "waiting", _s_lazy("waiting")
        BENCH = "bench", _s_lazy("on the bench")
        PARTS = "parts", _s_lazy("waiting for parts")
        AWAY = "away", _s_lazy("at the repairer’s")
        DONE = "done", _s_lazy("done")
        GIVEN_UP = "given-up", _s_lazy("given up")

    class Verdict(models.TextChoices):
        YES = "yes", _s_lazy("worth mending")
        NO = "no", _s_lazy("not worth mending")

    OPEN = (State.WAITING, State.BENCH, State.PARTS, State.AWAY)
    IN_THE_WORKSHOP = (State.BENCH, State.PARTS, State.AWAY)
    # Where one tap leads from each state, the likeliest first; a job at the repairer's comes back first.
    STEPS = (
        (
            State.WAITING,
            (
                (State.BENCH, _s_lazy("Start")),
                (State.PARTS, _s_lazy("Waits for a part")),
                (State.DONE, _s_lazy("Done")),
            ),
        ),
        (State.BENCH, ((State.DONE, _s_lazy("Done")), (State.PARTS, _s_lazy("Waits for a part")))),
        (State.PARTS, ((State.BENCH, _s_lazy("Start")), (State.DONE, _s_lazy("Done")))),
    )

    # Of a horn that is out on loan: the family has brought it, and its loan goes on.
    BROUGHT = ("brought", _s_lazy("It is here: start"))

    # Its horn's for good; empty only of what the version before opened while this one was put in place, for a night.
    school = models.ForeignKey(School, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
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
    # What was agreed goes with the horn on paper, the notes never do.
    work_ordered = models.TextField(max_length=4000, blank=True, default="", db_default="")
    notes = models.TextField(max_length=4000, blank=True)
    # What the technician says to a head who asks whether to mend or to replace it.
    verdict = models.CharField(
        _s_lazy("worth mending"), max_length=3, choices=Verdict, blank=True, default="", db_default=""
    )
    verdict_why = models.CharField(_s_lazy("why"), max_length=500, blank=True, default="", db_default="")
    # The horn its pupil plays meanwhile, as a swap noted it; who has it is that horn's own affair.
    stand_in = models.ForeignKey(
        Horn, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", editable=False
    )
    # A repairer outside the school: what they ask, and where the horn is.
    repairer = models.CharField(_s_lazy("outside repairer"), max_length=120, blank=True)
    quote = models.DecimalField(
        max_digits=10, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    sent_on = models.DateField(_s_lazy("sent on"), null=True, blank=True)
    expected_on = models.DateField(_s_lazy("expected back on"), null=True, blank=True)
    back_on = models.DateField(_s_lazy("back on"), null=True, blank=True)
    # Where the order went by e-mail the last time, and when.
    order_to = models.EmailField(blank=True, default="", db_default="", editable=False)
    ordered_at = models.DateTimeField(null=True, blank=True, editable=False)
    # Of a horn on loan: when and where its family is asked to bring it, when they have read that, and from when they
    # may fetch it. While it is brought and not fetched it is in the workshop, and its loan goes on.
    bring_on = models.DateField(_s_lazy("bring it on"), null=True, blank=True)
    bring_words = models.CharField(_s_lazy("where and when"), max_length=200, blank=True, default="", db_default="")
    bring_seen_at = models.DateTimeField(null=True, blank=True, editable=False)
    brought_at = models.DateTimeField(null=True, blank=True, editable=False)
    fetch_on = models.DateField(_s_lazy("fetch it from"), null=True, blank=True)
    fetched_at = models.DateTimeField(null=True, blank=True, editable=False)
    # What a head agreed to: a quote or a cost that rises above it needs agreeing to again.
    approved = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True, editable=False)
    approved_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    approved_at = models.DateTimeField(null=True, blank=True, editable=False)

    # Kept by `keep_turns` while it is open, from what lies under its horn's lock: its rank on the bench, and the codes
    # of the faults that are left with how many of each, from which follows what the stock lacks for it.
    turn = models.BigIntegerField(null=True, editable=False)
    wants = models.JSONField(default=list, db_default=[], editable=False)

    objects = RepairJobQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["horn"],
                condition=Q(closed_at=None),
                name="one_open_job_a_horn",
                violation_error_message=_s_lazy("This horn already has an open repair job."),
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(closed_at__gte=F("opened_at")),
                name="job_closed_after_opened",
                violation_error_message=_s_lazy("A job cannot end before it began."),
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, state__in=["waiting", "bench", "parts", "away"])
                | Q(closed_at__isnull=False, state__in=["done", "given-up"]),
                name="job_state_fits_its_end",
            ),
            models.CheckConstraint(
                condition=Q(verdict="") | ~Q(verdict_why=""),
                name="job_verdict_with_reason",
                violation_error_message=_s_lazy("Say why."),
            ),
            models.CheckConstraint(
                condition=Q(cost=None) | Q(cost__gte=0),
                name="job_cost_not_negative",
                violation_error_message=_s_lazy("A repair cannot cost less than nothing."),
            ),
            models.CheckConstraint(
                condition=Q(quote=None) | Q(quote__gte=0),
                name="job_quote_not_negative",
                violation_error_message=_s_lazy("A quote cannot be less than nothing."),
            ),
            models.CheckConstraint(
                condition=Q(back_on=None) | Q(sent_on__isnull=False, back_on__gte=F("sent_on")),
                name="job_back_after_sent",
                violation_error_message=_s_lazy("A horn cannot come back before it was sent."),
            ),
            models.CheckConstraint(
                condition=Q(fetched_at=None) | Q(brought_at__isnull=False, fetched_at__gte=F("brought_at")),
                name="job_fetched_after_brought",
                violation_error_message=_s_lazy("A horn cannot be fetched before it was brought."),
            ),
            models.CheckConstraint(
                condition=Q(sent_on=None) | ~Q(repairer=""),
                name="job_sent_to_somebody",
                violation_error_message=_s_lazy("Say to which repairer the horn was sent."),
            ),
        ]
        indexes = [
            models.Index(fields=["horn", "-opened_at"], name="job_by_horn"),
            models.Index(fields=["school", "closed_at", "turn", "id"], name="job_in_turn"),
            models.Index(
                fields=["school", "expected_on"],
                condition=Q(closed_at=None, expected_on__isnull=False),
                name="job_away",
            ),
            models.Index(
                fields=["school", "-back_on", "-id"], condition=Q(back_on__isnull=False), name="job_back_newest"
            ),
            models.Index(fields=["school"], condition=Q(brought_at__isnull=False, fetched_at=None), name="job_brought"),
            # What repairs cost at a school, the middle one of all years too.
            models.Index(
                fields=["school", "cost"], condition=Q(closed_at__isnull=False, cost__isnull=False), name="job_cost"
            ),
        ]
        ordering = ["-opened_at", "-pk"]

    def __str__(self) -> str:
        return f"job {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def waits_for_family(self) -> bool:
        """Whether its family is asked to bring the horn, and has not brought it."""
        return self.is_open and self.bring_on is not None and self.horn.whereabouts.is_with_family

    @property
    def taps(self) -> tuple[tuple[str, str], ...]:
        """Where one tap moves it to, with what the button says; none where it is away or closed."""
        if self.state == self.State.WAITING and self.horn.whereabouts.code == "out":
            return self.BROUGHT, (self.State.DONE.value, _s_lazy("Done"))
        return dict(self.STEPS).get(self.State(self.state), ())

    def due(self, today: date) -> DueDay | None:
        """How the day it is expected back stands to today; None unless it is at the repairer's and a day was said."""
        away = self.state == self.State.AWAY
        return DueDay(self.expected_on, today) if away and self.expected_on is not None else None

    def needs_approval(self, limit: Decimal | None) -> bool:
        """Whether the quote or the cost is above the school's limit and above what a head has agreed to."""
        asked = self.asked
        if limit is None or asked is None or asked <= limit:
            return False
        return self.approved is None or asked > self.approved

    @property
    def asked(self) -> Decimal | None:
        """What a head is asked to agree to: the quote, or the cost where it came to more or the work is done."""
        sums = (self.quote if self.is_open else None, self.cost)
        return max((sum for sum in sums if sum is not None), default=None)

    @property
    def asks_with(self) -> str:
        """Which of the two it is: "quote" or "cost"."""
        return "cost" if self.cost is not None and (not self.is_open or self.cost > (self.quote or 0)) else "quote"


class JobStep(models.Model):
    """One change to a job: who, when, the state it left the job in, and in a few words what changed.

    The newest step is also what a page of the job was made from: who saves over a newer one is told first.
    """

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="steps")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=RepairJob.State)
    words = models.CharField(max_length=500)

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
        indexes = [models.Index(fields=["part", "at", "count", "cost_each"], name="part_used_in_days")]
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.count} × {self.part}"

    @property
    def cost(self) -> Decimal:
        return self.count * self.cost_each
