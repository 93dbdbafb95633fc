"""What happens to a loan while it runs: periods, charges, what a family asks. Appended, never rewritten."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.people.models import School, User


class LoanPeriod(models.Model):
    """A due date that was moved: on by a renewal, forward by a recall. The loan itself holds the date in force."""

    class Kind(models.TextChoices):
        RENEWED = "renewed", "renewed"
        RECALLED = "recalled", "recalled"

    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, related_name="periods")
    kind = models.CharField(max_length=8, choices=Kind)
    due_before = models.DateField()
    due_on = models.DateField("due back on")
    reason = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="renewed", due_on__gt=F("due_before"))
                | Q(kind="recalled", due_on__lt=F("due_before")),
                name="renewed_later_recalled_sooner",
                violation_error_message="A renewal ends later than before, a recall sooner.",
            ),
        ]
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.kind} until {self.due_on}"


class ChargeQuerySet(models.QuerySet["Charge"]):
    def at(self, school: School) -> ChargeQuerySet:
        return self.filter(loan__horn__school=school)

    def due(self) -> ChargeQuerySet:
        return self.filter(state=Charge.State.DUE)


class Charge(models.Model):
    """Money a family owes for a loan, whether it was paid or remitted. Never how it was paid: no bank data."""

    class State(models.TextChoices):
        DUE = "due", "due"
        PAID = "paid", "paid"
        REMITTED = "remitted", "remitted"

    loan = models.ForeignKey("loans.Loan", on_delete=models.PROTECT, related_name="charges")
    what = models.CharField("for", max_length=120)
    amount = models.DecimalField(max_digits=8, decimal_places=2, validators=[MinValueValidator(0)])
    currency = models.CharField(max_length=3)
    due_on = models.DateField("to be paid by")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=8, choices=State, default=State.DUE)
    settled_on = models.DateField(null=True, blank=True)
    settled_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = ChargeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0),
                name="charge_more_than_nothing",
                violation_error_message="A charge is more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(state="due", settled_on=None) | Q(state__in=["paid", "remitted"], settled_on__isnull=False),
                name="charge_settled_with_a_day",
                violation_error_message="A charge is settled on a day.",
            ),
        ]
        indexes = [models.Index(fields=["due_on", "id"], condition=Q(state="due"), name="charge_due")]
        ordering = ["due_on", "pk"]

    def __str__(self) -> str:
        return f"{self.amount:,.2f} {self.currency} for {self.what}"


class FamilyAskQuerySet(models.QuerySet["FamilyAsk"]):
    def at(self, school: School) -> FamilyAskQuerySet:
        return self.filter(loan__horn__school=school)

    def unanswered(self) -> FamilyAskQuerySet:
        return self.filter(answered_at=None)


class FamilyAsk(models.Model):
    """A guardian asks for a later due date or tells that the horn is lost; staff answer."""

    class Kind(models.TextChoices):
        RENEW = "renew", "asks to keep it longer"
        LOST = "lost", "says it is lost"

    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, related_name="asks")
    kind = models.CharField(max_length=8, choices=Kind)
    words = models.CharField(max_length=1000, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=300, blank=True)

    objects = FamilyAskQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["loan", "kind"],
                condition=Q(answered_at=None),
                name="one_open_ask_a_kind",
                violation_error_message="The school has this already and will answer.",
            ),
        ]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.get_kind_display()


class CalendarKey(models.Model):
    """One person's secret address of a school's due dates. Only its hash is kept; a revoked one never opens again."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="calendar_keys")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="calendar_keys")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    read_on = models.DateField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school", "user"], condition=Q(revoked_at=None), name="one_calendar_address_a_person"
            ),
        ]
