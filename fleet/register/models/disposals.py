"""Horns given up for good: proposed by one person, decided by another."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User


class DisposalQuerySet(models.QuerySet["Disposal"]):
    def at(self, school: School) -> DisposalQuerySet:
        return self.filter(horn__school=school)

    def undecided(self) -> DisposalQuerySet:
        return self.filter(decided_at=None)


class Disposal(models.Model):
    """A horn leaving the school for good: proposed by one person, decided by another. Its record and number stay."""

    class Method(models.TextChoices):
        SOLD = "sold", _s_lazy("sold")
        GIVEN = "given", _s_lazy("given away")
        PARTS = "parts", _s_lazy("taken apart for its parts")
        SCRAPPED = "scrapped", _s_lazy("scrapped")
        RETURNED = "returned", _s_lazy("given back to its owner")
        OTHER = "other", _s_lazy("another way")

    horn = models.ForeignKey("register.Horn", on_delete=models.PROTECT, related_name="disposals")
    method = models.CharField(max_length=12, choices=Method)
    on = models.DateField(_s_lazy("leaves on"))
    reason = models.CharField(max_length=300)
    buyer = models.CharField(_s_lazy("goes to"), max_length=120, blank=True, default="", db_default="")
    price = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    # What it counted for on the day of the proposal: the horn's own value may be written anew later.
    value = models.DecimalField(_s_lazy("value at the time"), max_digits=10, decimal_places=2, null=True, blank=True)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    approved = models.BooleanField(null=True)
    answer = models.CharField(max_length=300, blank=True)

    objects = DisposalQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(decided_by=None) | ~Q(decided_by=F("proposed_by")),
                name="disposal_by_two_people",
                violation_error_message=_s_lazy("Somebody else than who proposed it decides."),
            ),
            models.CheckConstraint(
                condition=Q(decided_at=None, decided_by=None, approved=None)
                | Q(decided_at__gte=F("proposed_at"), decided_by__isnull=False, approved__isnull=False),
                name="disposal_decided_whole",
            ),
            models.UniqueConstraint(
                fields=["horn"],
                condition=Q(approved=None) | Q(approved=True),
                name="one_disposal_a_horn",
                violation_error_message=_s_lazy("This horn is to be given up already."),
            ),
        ]
        indexes = [models.Index(fields=["horn"], condition=Q(decided_at=None), name="disposal_undecided")]
        ordering = ["-proposed_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.horn}, {self.get_method_display()}"
