"""Money that families owe for loans."""

from __future__ import annotations

from datetime import date

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from fleet.ground.badges import money
from fleet.ground.due import DueDay
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import with_commas
from fleet.people.models import School, User


class ChargeQuerySet(models.QuerySet["Charge"]):
    def at(self, school: School) -> ChargeQuerySet:
        return self.filter(loan__school=school)

    def due(self) -> ChargeQuerySet:
        return self.filter(state=Charge.State.DUE)


class Charge(models.Model):
    """Money a family owes for a loan, whether it was paid or remitted. Never how it was paid: no bank data."""

    class State(models.TextChoices):
        DUE = "due", _s_lazy("due")
        PAID = "paid", _s_lazy("paid")
        REMITTED = "remitted", _s_lazy("remitted")

    loan = models.ForeignKey("loans.Loan", on_delete=models.PROTECT, related_name="charges")
    what = models.CharField(_s_lazy("for"), max_length=120)
    amount = models.DecimalField(max_digits=8, decimal_places=2, validators=[MinValueValidator(0)])
    currency = models.CharField(max_length=3)
    due_on = models.DateField(_s_lazy("to be paid by"))
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
                violation_error_message=_s_lazy("A charge is more than nothing."),
            ),
            models.CheckConstraint(
                condition=Q(state="due", settled_on=None) | Q(state__in=["paid", "remitted"], settled_on__isnull=False),
                name="charge_settled_with_a_day",
                violation_error_message=_s_lazy("A charge is settled on a day."),
            ),
        ]
        indexes = [models.Index(fields=["due_on", "id"], condition=Q(state="due"), name="charge_due")]
        ordering = ["due_on", "pk"]

    def __str__(self) -> str:
        return with_commas((self.what, money(self.amount, self.currency)))

    def due(self, today: date) -> DueDay | None:
        """How the day it is to be paid by stands to today; None once it is settled."""
        return DueDay(self.due_on, today) if self.state == self.State.DUE else None
