"""What is agreed about a job besides its own columns: faults left as they are, quotes of other repairers, invoices."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import User
from fleet.workshop.models.jobs import RepairJob


class NotDone(models.Model):
    """A fault of a job that is left as it is, and why. Done or found gone, it has no such row."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="not_done")
    fault = models.CharField(max_length=40)
    why = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "fault"], name="not_done_once")]

    def __str__(self) -> str:
        return self.why


class OtherQuote(models.Model):
    """What another repairer asks for the same work; the job has the quote that was taken. `words` are their terms."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="other_quotes")
    repairer = models.CharField(max_length=120)
    amount = models.DecimalField(max_digits=10, decimal_places=2, validators=[MinValueValidator(0)])
    words = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gte=0),
                name="other_quote_not_negative",
                violation_error_message=_s_lazy("A quote cannot be less than nothing."),
            )
        ]
        ordering = ["amount", "pk"]

    def __str__(self) -> str:
        return f"{self.repairer}: {self.amount}"


class Invoice(models.Model):
    """What a repairer billed for a job, with a photograph or a PDF of the paper where there is one."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="invoices")
    number = models.CharField(max_length=60, blank=True)
    amount = models.DecimalField(max_digits=10, decimal_places=2, validators=[MinValueValidator(0)])
    file = models.FileField(upload_to="invoices/%Y/", max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gte=0),
                name="invoice_not_negative",
                violation_error_message=_s_lazy("An invoice cannot be over less than nothing."),
            ),
            models.UniqueConstraint(
                fields=["job", "number"],
                condition=~Q(number=""),
                name="invoice_once",
                violation_error_message=_s_lazy("This invoice is kept with the job already."),
            ),
        ]
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"invoice {self.number}".strip()

    @property
    def named(self) -> str:
        """Its name in the language of who reads: a step of its job tells it in English."""
        return _s("Invoice %(number)s") % {"number": self.number} if self.number else _s("Invoice")
