"""Loans. They are ended, never deleted."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _s

from fleet.ground.due import DueDay, near, over
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.lending.models.agreements import Agreement
from fleet.lending.models.periods import LoanPeriod
from fleet.lending.models.returns import ReturnNote
from fleet.people.models import Guardian, Pupil, School, User
from fleet.register.models import Horn, new_label_code
from fleet.workshop.models import ConditionCheck, Finding


class LoanQuerySet(models.QuerySet["Loan"]):
    def at(self, school: School) -> LoanQuerySet:
        return self.filter(school=school)

    def open(self) -> LoanQuerySet:
        return self.filter(returned_on=None)

    def awaited(self) -> LoanQuerySet:
        """Running, and nobody has noted that the horn came back (`Loan.is_awaited`)."""
        return self.open().filter(horn__noted_back=False)

    def ended(self) -> LoanQuerySet:
        return self.filter(returned_on__isnull=False)

    def overdue(self, today: date) -> LoanQuerySet:
        """Still out the day after the due date and later."""
        return self.awaited().filter(over("due_on", today))

    def due_soon(self, today: date, days: int) -> LoanQuerySet:
        """Due today or within so many days, and not overdue."""
        return self.in_time(today).filter(near("due_on", today, days))

    def in_time(self, today: date) -> LoanQuerySet:
        """Still to come back and not overdue."""
        return self.awaited().filter(~over("due_on", today))

    def recalled(self) -> LoanQuerySet:
        """Running, and its due date in force was set by a recall (`Loan.recall`)."""
        return self.open().filter(horn__recalled=True)

    def unsigned(self) -> LoanQuerySet:
        """Running, and nobody has signed for it: it came in by a list."""
        return self.open().filter(signed_on=None)

    def lost(self) -> LoanQuerySet:
        """Ended because the horn was lost, which has not been found since."""
        return self.exclude(lost_words="").exclude(horn__not_found_on=None)

    def answered_for_by(self, user: User) -> LoanQuerySet:
        """Loans of the pupils whose guardian this account is."""
        return self.filter(pupil__guardians__user=user).distinct()


class Ended(models.TextChoices):
    """How a loan ended: the horn came back, went out of hand for another one, or was lost."""

    CAME_BACK = "came-back", _s_lazy("came back")
    SWAPPED = "swapped", _s_lazy("swapped")
    LOST = "lost", _s_lazy("lost")


class Loan(models.Model):
    # Its horn's for good; empty only of what the version before lent while this one was put in place, for a night.
    school = models.ForeignKey(School, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
    horn = models.ForeignKey(Horn, on_delete=models.PROTECT, related_name="loans")
    pupil = models.ForeignKey(Pupil, on_delete=models.PROTECT, related_name="loans")
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT, related_name="loans")
    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="loans")
    # A loan that ran already and came in by a list is signed later, and may go out unchecked; no other is.
    from_list = models.BooleanField(default=False, db_default=False)
    signed_on = models.DateField(_s_lazy("signed by the guardian on"), null=True)
    # In which language; its sheet stays in that, whatever the guardian reads later. Empty where nobody knows.
    language = models.CharField(max_length=8, default="", db_default="")
    issued_on = models.DateField(_s_lazy("issued on"))
    issued_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(_s_lazy("due back on"))
    check_at_issue = models.ForeignKey(ConditionCheck, on_delete=models.PROTECT, null=True, related_name="+")
    stands_in = models.CharField(_s_lazy("stood in at issue"), max_length=12, blank=True)
    # What the square code of its sheet leads by; the sheet that went home to be signed has one of its own.
    sheet_code = models.CharField(max_length=12, unique=True, null=True, default=new_label_code, editable=False)
    # The horn that came back in exchange: one agreement, one due date and one sheet go on with this one.
    in_place_of = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )

    returned_on = models.DateField(_s_lazy("returned on"), null=True, blank=True)
    returned_to = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    check_at_return = models.ForeignKey(
        ConditionCheck, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    return_notes = models.CharField(max_length=1000, blank=True)
    # Says how, when the loan ended because the horn was lost; `returned_on` is then the day that was recorded.
    lost_words = models.CharField(_s_lazy("how it was lost"), max_length=300, blank=True)
    mouthpiece_cleaned_on = models.DateField(null=True, blank=True)
    mouthpiece_cleaned_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = LoanQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["horn"],
                condition=Q(returned_on=None),
                name="one_open_loan_a_horn",
                violation_error_message=_s_lazy("This horn is already out on loan."),
            ),
            models.CheckConstraint(
                condition=Q(due_on__gte=F("issued_on")),
                name="due_not_before_issue",
                violation_error_message=_s_lazy("A horn cannot be due back before it is issued."),
            ),
            models.CheckConstraint(
                condition=Q(from_list=True) | Q(signed_on__isnull=False, signed_on__lte=F("issued_on")),
                name="signed_before_issue",
                violation_error_message=_s_lazy("The guardian signs before the horn is issued."),
            ),
            models.CheckConstraint(
                condition=Q(from_list=True) | Q(check_at_issue__isnull=False), name="checked_before_issue"
            ),
            models.CheckConstraint(
                condition=Q(returned_on=None) | Q(returned_on__gte=F("issued_on")),
                name="returned_not_before_issue",
                violation_error_message=_s_lazy("A horn cannot come back before it was issued."),
            ),
        ]
        indexes = [
            models.Index(fields=["horn", "-issued_on"], name="loan_by_horn"),
            models.Index(
                fields=["horn", "-returned_on", "-id"], condition=Q(returned_on__isnull=False), name="loan_back_last"
            ),
            models.Index(fields=["pupil", "-issued_on"], name="loan_by_pupil"),
            models.Index(fields=["school", "due_on", "id"], name="loan_by_due"),
            models.Index(fields=["school", "issued_on", "id"], name="loan_by_issue"),
            # With the day in it that is none, so that SQLite counts them along it and reads no loan.
            models.Index(
                fields=["school", "due_on", "id", "returned_on"], condition=Q(returned_on=None), name="loan_out_by_due"
            ),
            models.Index(fields=["school", "-issued_on", "-id"], condition=Q(returned_on=None), name="loan_out_newest"),
            models.Index(
                fields=["school", "-returned_on", "-id"], condition=Q(returned_on__isnull=False), name="loan_ended"
            ),
            models.Index(fields=["school"], condition=~Q(lost_words=""), name="loan_lost"),
            models.Index(fields=["horn"], condition=Q(returned_on=None, signed_on=None), name="loan_unsigned"),
            # Where no loan takes another's place yet, SQLite finds them all equal in the unique index, and looks
            # through every loan of the site for the one that follows.
            models.Index(fields=["in_place_of"], condition=Q(in_place_of__isnull=False), name="loan_follows"),
        ]
        ordering = ["-issued_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.horn} to {self.pupil}"

    @property
    def as_noted(self) -> ReturnNote | None:
        """What somebody noted of its return before the horn was taken back. A query, unless `noted` was fetched."""
        return getattr(self, "noted", None)

    @property
    def is_open(self) -> bool:
        return self.returned_on is None

    @property
    def is_awaited(self) -> bool:
        """Whether the family has still to bring it back: it runs, and nobody has noted that the horn is here."""
        return self.is_open and not self.horn.noted_back

    @property
    def found_at_issue(self) -> list[Finding]:
        """What was wrong with it when it went out; nothing is known of a horn that was never checked before."""
        return list(self.check_at_issue.findings.all()) if self.check_at_issue else []

    @property
    def ended_as(self) -> Ended | None:
        """None while it runs. A query unless `replaced_by` was fetched along."""
        if self.is_open:
            return None
        if self.lost_words:
            return Ended.LOST
        return Ended.CAME_BACK if self.goes_on_as is None else Ended.SWAPPED

    @property
    def goes_on_as(self) -> Loan | None:
        """The loan of the horn that the pupil got in exchange."""
        return getattr(self, "replaced_by", None)

    @property
    def recall(self) -> LoanPeriod | None:
        """The recall, while it is what set the due date in force. A query unless `periods` were fetched along."""
        newest = next(reversed(self.periods.all()), None)
        return newest if newest is not None and newest.kind == LoanPeriod.Kind.RECALLED else None

    @property
    def mouthpiece_waits(self) -> bool:
        """Whether the horn came back and nobody has recorded since that its mouthpiece was cleaned."""
        return self.ended_as not in {None, Ended.LOST} and self.mouthpiece_cleaned_on is None

    def due(self, today: date) -> DueDay | None:
        """How its due day stands to today; None once it has ended or is noted as back."""
        return DueDay(self.due_on, today) if self.is_awaited else None

    def not_later(self, due_on: date) -> str:
        """Why this is no day to renew it to, if it is none."""
        if due_on > self.due_on:
            return ""
        return _s("It is due on %(due_on)s already. A renewal ends later than that.") % {"due_on": day(self.due_on)}

    def not_sooner(self, due_on: date) -> str:
        """Why this is no day to recall it by, if it is none."""
        if due_on < self.due_on:
            return ""
        return _s("It is due on %(due_on)s anyway. A recall asks for it sooner.") % {"due_on": day(self.due_on)}

    def days_over(self, today: date) -> int:
        """Days since it was due, while it is out; 0 before that and once it is back."""
        due = self.due(today)
        return due.days if due is not None and due.is_over else 0

    @property
    def ended_late(self) -> bool:
        return self.returned_on is not None and DueDay(self.due_on, self.returned_on).is_over
