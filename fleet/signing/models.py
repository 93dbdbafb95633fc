"""Loans before they are made: what was put before a guardian on their own page, what went home on paper, and that paper
back again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TypedDict, Unpack

from django.db import models
from django.db.models import F, OuterRef, Q, Subquery
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.due import over
from fleet.ground.wording import day
from fleet.people.models import Guardian, Pupil, School, User
from fleet.register.models import Horn, new_label_code
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


class Proposed(models.Model):
    """A loan that is to be: on these terms it was put before a guardian."""

    horn = models.ForeignKey(Horn, on_delete=models.PROTECT)
    pupil = models.ForeignKey(Pupil, on_delete=models.PROTECT)
    guardian = models.ForeignKey(Guardian, on_delete=models.PROTECT)
    agreement = models.ForeignKey("loans.Agreement", on_delete=models.PROTECT, related_name="+")
    check_seen = models.ForeignKey(ConditionCheck, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField()
    accessories = models.JSONField(default=list)
    # In which language it was shown or printed; empty of what is older than there being several.
    language = models.CharField(max_length=8, default="", db_default="")

    # Whom and what a sentence about it names.
    SAID_OF = ("horn", "pupil", "guardian", "agreement")

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.horn} for {self.pupil}, {self.agreement}"

    @property
    def can_be_lent(self) -> bool:
        """Whether nothing keeps the horn from this pupil now."""
        return not self.horn.kept_back_from(self.pupil.name)

    @property
    def terms(self) -> Terms:
        return {
            "horn": self.horn,
            "pupil": self.pupil,
            "guardian": self.guardian,
            "agreement_version": self.agreement.version,
            "check_seen": self.check_seen_id,
            "due_on": self.due_on,
            "accessories": self.accessories,
        }

    def is_for(self, **terms: Unpack[Terms]) -> bool:
        """Whether it is about exactly this loan."""
        shown = (self.horn_id, self.pupil_id, self.guardian_id, self.check_seen_id, self.due_on)
        return (
            shown == (*(terms[one].pk for one in ("horn", "pupil", "guardian")), terms["check_seen"], terms["due_on"])
            and self.agreement.version == terms["agreement_version"]
            and list(self.accessories) == list(terms["accessories"])
        )


class OnlineSignatureQuerySet(models.QuerySet["OnlineSignature"]):
    def at(self, school: School) -> OnlineSignatureQuerySet:
        return self.filter(horn__school=school)

    def waiting(self) -> OnlineSignatureQuerySet:
        """Put before a guardian, not signed yet, not taken back."""
        return self.filter(signed_at=None, withdrawn_at=None)

    def unused(self) -> OnlineSignatureQuerySet:
        """Signed or not, still good for a loan that is to be made."""
        return self.filter(withdrawn_at=None, loan=None)

    def standing(self, today: date) -> OnlineSignatureQuerySet:
        """About what can be lent like this still: nobody looked the horn over since, its due day is to come, and the
        pupil is there. The others are asked for anew, or taken back."""
        newest = ConditionCheck.objects.filter(horn=OuterRef("horn")).order_by("-at", "-pk").values("pk")[:1]
        there = self.alias(newest=Subquery(newest)).filter(check_seen=F("newest"), pupil__left_on=None)
        return there.filter(~over("due_on", today))


class OnlineSignature(Proposed):
    """What a guardian was shown and whether they signed it: one horn, pupil, due date and version, and no other.

    `shown` holds every word of it. It is never rewritten, and is good for one loan.
    """

    shown = models.TextField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    signed_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    typed_name = models.CharField(max_length=120, blank=True)
    # As it was when they signed: somebody else had asked them, and the loan and its sheet say so.
    signer_works_here = models.BooleanField(default=False, db_default=False)
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
        verbose_name, verbose_name_plural = "request to sign", "requests to sign"

    @property
    def signed_as(self) -> str:
        """`as “Maria Okafor” at 10:30`."""
        if self.signed_at is None:
            return ""
        said = {"name": self.typed_name, "time": f"{timezone.localtime(self.signed_at):%H:%M}"}
        return gettext("as “%(name)s” at %(time)s") % said

    @property
    def signer(self) -> str:
        """Whose account signed: `Maria Okafor`, `Maria Okafor, who works here; Tom Bell had asked`."""
        if not self.signer_works_here:
            return str(self.signed_by)
        said = {"who": self.signed_by, "asked": self.asked_by}
        return gettext("%(who)s, who works here; %(asked)s had asked") % said

    @property
    def waits_in_words(self) -> str:
        """`H-5 waits for Maria Okafor’s signature, for Ada Quill.`"""
        if self.signed_at is not None:
            said = _s("%(horn)s is promised to %(pupil)s: %(guardian)s has signed for it.")
        else:
            said = _s("%(horn)s waits for %(guardian)s’s signature, for %(pupil)s.")
        return said % {"horn": self.horn, "pupil": self.pupil, "guardian": self.guardian}


# Most families bring a sheet back within a fortnight; after that somebody asks.
SHEET_DAYS = 14


class SheetOutQuerySet(models.QuerySet["SheetOut"]):
    def at(self, school: School) -> SheetOutQuerySet:
        # A school has many horns and few agreements, under which its sheets are found without reading the site's.
        return self.filter(horn__school=school, agreement__school=school)

    def not_put_away(self) -> SheetOutQuerySet:
        """Nobody has issued the horn since or put the sheet away."""
        return self.filter(put_away_at=None)

    def out(self) -> SheetOutQuerySet:
        """Still to come back: the school has the horn in hand, and the pupil is there to have it."""
        there = self.not_put_away().filter(horn__withdrawn_on=None, horn__not_found_on=None, pupil__left_on=None)
        # Asked for the equal of "", SQLite would begin with all horns that nobody has.
        return there.exclude(horn__holder_name__gt="")


class SheetOut(Proposed):
    """A sheet to sign on paper that was printed to go home. It promises the horn to nobody.

    Sheets printed in one go, a batch, have the moment and the person in common. One is in once it has its loan.
    """

    printed_at = models.DateTimeField()
    printed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    put_away_at = models.DateTimeField(null=True)
    loan = models.OneToOneField("loans.Loan", on_delete=models.PROTECT, null=True, blank=True, related_name="sheet_out")
    # What its square code leads by.
    sheet_code = models.CharField(max_length=12, unique=True, null=True, default=new_label_code, editable=False)

    objects = SheetOutQuerySet.as_manager()

    class Meta:
        app_label = "loans"
        constraints = [
            models.UniqueConstraint(
                fields=["horn", "pupil"], condition=Q(put_away_at=None), name="one_sheet_out_of_a_horn_and_pupil"
            )
        ]
        indexes = [
            models.Index(fields=["agreement"], condition=Q(put_away_at=None), name="sheet_out_of_a_school"),
            models.Index(fields=["printed_at"], name="sheet_by_batch"),
        ]
        ordering = ["-printed_at", "-pk"]
        verbose_name, verbose_name_plural = "sheet to sign", "sheets to sign"

    @property
    def in_words(self) -> str:
        """`H-5: the sheet is with the family of Ada Quill`"""
        named = {"horn": self.horn, "pupil": self.pupil.name}
        return _s("%(horn)s: the sheet is with the family of %(pupil)s") % named

    def is_late(self, today: date) -> bool:
        """Whether it should be back by now: after its days at home, or after the day the horn itself would be due."""
        return today > min(timezone.localdate(self.printed_at) + timedelta(days=SHEET_DAYS), self.due_on)


class SignedSheet(models.Model):
    """A signed sheet, or a page of it, kept with its loan: a photograph drawn anew from its pixels, or a PDF."""

    loan = models.ForeignKey("loans.Loan", on_delete=models.PROTECT, related_name="signed_sheets")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    file = models.FileField(upload_to="sheets/%Y/", max_length=200)

    class Meta:
        app_label = "loans"
        ordering = ["at", "pk"]
        verbose_name = "signed sheet"

    @property
    def kind(self) -> str:
        """`photograph` or `PDF`."""
        return "PDF" if str(self.file.name).endswith(".pdf") else _s("photograph")

    @property
    def of_day(self) -> str:
        """`Photograph of 3 May 2027`"""
        named = {"day": day(timezone.localdate(self.at))}
        return (_s("Photograph of %(day)s") if self.kind != "PDF" else _s("PDF of %(day)s")) % named


# Servers take a request line of about 4,000 characters, and nobody signs a higher stack at once.
MOST_IN_A_BATCH = 60
