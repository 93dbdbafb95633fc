"""Agreements put before a guardian on their own page, and signed there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TypedDict

from django.db import models
from django.db.models import Q

from fleet.people.models import Guardian, Pupil, School, User
from fleet.register.models import Horn
from fleet.workshop.models import ConditionCheck


class Terms(TypedDict):
    """What a loan is to be, as it is asked for, signed and made: `check_seen` is the key of a condition check."""

    horn: Horn
    pupil: Pupil
    guardian: Guardian
    agreement_version: int
    check_seen: int
    due_on: date
    accessories: Sequence[str]


class OnlineSignatureQuerySet(models.QuerySet["OnlineSignature"]):
    def at(self, school: School) -> OnlineSignatureQuerySet:
        return self.filter(horn__school=school)

    def waiting(self) -> OnlineSignatureQuerySet:
        """Put before a guardian, not signed yet, not taken back."""
        return self.filter(signed_at=None, withdrawn_at=None)

    def unused(self) -> OnlineSignatureQuerySet:
        """Signed or not, still good for a loan that is to be made."""
        return self.filter(withdrawn_at=None, loan=None)


class OnlineSignature(models.Model):
    """What a guardian was shown and whether they signed it: one horn, pupil, due date and version, and no other.

    `shown` holds every word of it. It is never rewritten, and is good for one loan.
    """

    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, related_name="+")
    pupil = models.ForeignKey(Pupil, on_delete=models.PROTECT, related_name="+")
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="+")
    agreement = models.ForeignKey("loans.Agreement", on_delete=models.PROTECT, related_name="+")
    check_seen = models.ForeignKey(ConditionCheck, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField()
    accessories = models.JSONField(default=list)
    shown = models.TextField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    signed_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    typed_name = models.CharField(max_length=120, blank=True)
    loan = models.OneToOneField(
        "loans.Loan", on_delete=models.PROTECT, null=True, blank=True, related_name="online_signature"
    )

    objects = OnlineSignatureQuerySet.as_manager()

    class Meta:
        app_label = "loans"
        constraints = [
            models.UniqueConstraint(
                fields=["horn", "pupil"], condition=Q(withdrawn_at=None, loan=None), name="one_agreement_to_sign"
            ),
            models.CheckConstraint(
                condition=Q(signed_at=None, typed_name="") | (Q(signed_at__isnull=False) & ~Q(typed_name="")),
                name="signed_with_a_name",
            ),
            models.CheckConstraint(condition=Q(loan=None) | Q(signed_at__isnull=False), name="lent_only_when_signed"),
        ]
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.horn} for {self.pupil}, {self.agreement}"

    @property
    def waits_in_words(self) -> str:
        """`H-5 waits for Maria Okafor’s signature, for Ada Quill.`"""
        if self.signed_at is not None:
            return f"{self.horn} is promised to {self.pupil}: {self.guardian} has signed for it."
        return f"{self.horn} waits for {self.guardian}’s signature, for {self.pupil}."

    def is_for(
        self,
        *,
        horn: Horn,
        pupil: Pupil,
        guardian: Guardian,
        agreement_version: int,
        check_seen: int,
        due_on: date,
        accessories: Sequence[str],
    ) -> bool:
        """Whether the signature is about exactly this loan."""
        shown = (self.horn_id, self.pupil_id, self.guardian_id, self.check_seen_id, self.due_on)
        return (
            shown == (horn.pk, pupil.pk, guardian.pk, check_seen, due_on)
            and self.agreement.version == agreement_version
            and list(self.accessories) == list(accessories)
        )


# Servers take a request line of about 4,000 characters, and nobody signs a higher stack at once.
MOST_IN_A_BATCH = 60
