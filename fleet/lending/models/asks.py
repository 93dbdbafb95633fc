"""What families ask of the school about their loans, and what staff answer."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User


class FamilyAskQuerySet(models.QuerySet["FamilyAsk"]):
    def at(self, school: School) -> FamilyAskQuerySet:
        return self.filter(loan__school=school)

    def unanswered(self) -> FamilyAskQuerySet:
        return self.filter(answered_at=None)


class FamilyAsk(models.Model):
    """A guardian asks for a later due date or tells that the horn is lost; staff answer."""

    class Kind(models.TextChoices):
        RENEW = "renew", _s_lazy("asks to keep it longer")
        LOST = "lost", _s_lazy("says it is lost")

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
                violation_error_message=_s_lazy("The school has this already and will answer."),
            ),
        ]
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.get_kind_display()

    @property
    def taken_back(self) -> bool:
        """Whether who asked took it back before the school answered."""
        return self.answered_by_id == self.by_id and not self.answer
