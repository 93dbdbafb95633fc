"""Letters to guardians and how a school wants them. A letter's row is its log and what keeps it from going twice."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from fleet.loans import wording
from fleet.people.models import Guardian, School

if TYPE_CHECKING:
    from fleet.loans.models import Loan
    from fleet.loans.signatures import OnlineSignature


TO_SIGN = "to-sign"


def days_in(words: str) -> list[int]:
    """`14, 3` as [3, 14]. Raises ValidationError for anything but up to six whole numbers from 1 to 365."""
    parts = [part for part in words.replace(";", ",").replace(" ", ",").split(",") if part]
    if any(not part.isascii() or not part.isdigit() or not 1 <= int(part[:5]) <= 365 for part in parts):
        raise ValidationError("Write numbers of days from 1 to 365 with commas between, like: 14, 3.")
    if len(parts) > 6:
        raise ValidationError("Six letters are enough.")
    return sorted({int(part) for part in parts})


def check_days(words: str) -> None:
    days_in(words)


class LendingRules(models.Model):
    """How one school reminds and how long it keeps names. A school without a row goes by the defaults."""

    school = models.OneToOneField(School, on_delete=models.CASCADE, related_name="lending_rules")
    reminds = models.BooleanField("letters go out", default=True)
    days_before = models.CharField(
        "days before the due date", max_length=40, blank=True, default="14, 3", validators=[check_days]
    )
    days_after = models.CharField(
        "days after the due date", max_length=40, blank=True, default="1, 7, 21", validators=[check_days]
    )
    before_subject = models.CharField("subject", max_length=120, default=wording.BEFORE[0])
    before_words = models.TextField("before it is due", max_length=3000, default=wording.BEFORE[1])
    after_subject = models.CharField("subject", max_length=120, default=wording.AFTER[0])
    after_words = models.TextField("when it is overdue", max_length=3000, default=wording.AFTER[1])
    recall_subject = models.CharField("subject", max_length=120, default=wording.RECALLED[0])
    recall_words = models.TextField("when it is recalled", max_length=3000, default=wording.RECALLED[1])
    sign_subject = models.CharField("subject", max_length=120, default=wording.TO_SIGN[0])
    sign_words = models.TextField("when an agreement waits to be signed", max_length=3000, default=wording.TO_SIGN[1])
    names_kept_days = models.PositiveIntegerField(
        "names are kept this many days",
        default=730,
        validators=[MinValueValidator(30), MaxValueValidator(20_000)],
        help_text="After the pupil has left and the last loan has ended. Your data-protection lead decides.",
    )

    def __str__(self) -> str:
        return f"lending at {self.school}"

    def words_for(self, occasion: str) -> tuple[str, str]:
        """(subject, body) of an occasion, with their placeholders."""
        if occasion.startswith("before"):
            return self.before_subject, self.before_words
        if occasion == "recalled":
            return self.recall_subject, self.recall_words
        if occasion == TO_SIGN:
            return self.sign_subject, self.sign_words
        if occasion == "moved":
            return wording.MOVED
        return self.after_subject, self.after_words


def rules_of(school: School) -> LendingRules:
    """The school's own rules or the defaults, unsaved. One query."""
    return LendingRules.objects.filter(school=school).first() or LendingRules(school=school)


class LetterQuerySet(models.QuerySet["Letter"]):
    def at(self, school: School) -> LetterQuerySet:
        return self.filter(guardian__school=school)

    def undelivered(self) -> LetterQuerySet:
        """The newest letters that did not arrive, or may not have, while what they are about still stands."""
        newer = Letter.objects.filter(loan=OuterRef("loan"), pk__gt=OuterRef("pk"))
        out = Q(loan__isnull=False, loan__returned_on=None, loan__due_on=F("due_on"))
        to_sign = Q(signature__isnull=False, signature__signed_at=None, signature__withdrawn_at=None)
        return self.filter(out | to_sign, ~Exists(newer), state__in=Letter.FAILED)


class Letter(models.Model):
    """One letter for one occasion of one due date of a loan, or about one agreement to be signed."""

    class State(models.TextChoices):
        WAITING = "waiting", "waits for the mail server"
        GOING = "going", "is being sent"
        SENT = "sent", "sent"
        REFUSED = "refused", "refused by the mail server"
        BOUNCED = "bounced", "came back"
        NO_ADDRESS = "no-address", "no e-mail address"
        UNSURE = "unsure", "may not have arrived"
        DROPPED = "dropped", "not needed any more"

    FAILED: ClassVar = (State.REFUSED, State.BOUNCED, State.NO_ADDRESS, State.UNSURE)

    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, null=True, blank=True, related_name="letters")
    signature = models.ForeignKey(
        "loans.OnlineSignature", on_delete=models.CASCADE, null=True, blank=True, related_name="letters"
    )
    occasion = models.CharField(max_length=16)
    due_on = models.DateField()
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    made_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    tries = models.PositiveSmallIntegerField(default=0)
    address = models.CharField(max_length=254, blank=True)
    subject = models.CharField(max_length=300, blank=True)
    words = models.TextField(blank=True)
    trouble = models.CharField(max_length=300, blank=True)

    objects = LetterQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["loan", "occasion", "due_on"], name="one_letter_an_occasion"),
            models.UniqueConstraint(fields=["signature"], name="one_letter_a_signature"),
            models.CheckConstraint(
                condition=Q(loan__isnull=False, signature=None) | Q(loan=None, signature__isnull=False),
                name="letter_about_one_thing",
            ),
        ]
        indexes = [models.Index(fields=["state", "id"], name="letter_by_state")]
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return occasion_in_words(self.occasion)

    @property
    def about(self) -> Loan | OnlineSignature:
        """What it is about: either knows its horn, its pupil and the due date."""
        return self.loan or self.signature  # type: ignore[return-value]


def occasion_in_words(occasion: str) -> str:
    """`before-14` as `14 days before`."""
    when, _, days = occasion.partition("-")
    if days.isdigit():
        return f"{days} day{'' if days == '1' else 's'} {'before' if when == 'before' else 'after'} the due date"
    return {"recalled": "recalled", "moved": "the due date moved", TO_SIGN: "to be signed"}.get(occasion, occasion)
