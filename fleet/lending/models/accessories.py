"""The accessories that go out with a horn."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.people.models import School, User


class LoanAccessoryQuerySet(models.QuerySet["LoanAccessory"]):
    def at(self, school: School) -> LoanAccessoryQuerySet:
        return self.filter(loan__school=school)

    def missing(self) -> LoanAccessoryQuerySet:
        """Things that did not come back with the horn, and nobody has said what became of them. Of a lost horn nothing
        came back, and that is told by its being lost."""
        return self.filter(came_back=False, settled_on=None, loan__lost_words="")


class LoanAccessory(models.Model):
    """A thing that went out with the horn, and whether it came back with it (empty while the loan is open). What did
    not is missing until it is settled."""

    class Settled(models.TextChoices):
        CAME_LATER = "came-later", gettext_lazy("came back later")
        REPLACED = "replaced", gettext_lazy("was replaced")
        CHARGED = "charged", gettext_lazy("was charged")
        LET_GO = "let-go", gettext_lazy("was let go")

    loan = models.ForeignKey("loans.Loan", on_delete=models.CASCADE, related_name="accessories")
    name = models.CharField(max_length=60)
    came_back = models.BooleanField(null=True, blank=True)
    settled_as = models.CharField(max_length=10, choices=Settled, blank=True, default="", db_default="")
    settled_on = models.DateField(null=True, blank=True)
    settled_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = LoanAccessoryQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint("loan", Lower("name"), name="accessory_once_a_loan"),
            models.CheckConstraint(
                condition=Q(settled_as="", settled_on=None)
                | (Q(came_back__isnull=False, came_back=False, settled_on__isnull=False) & ~Q(settled_as="")),
                name="accessory_settled_with_a_day",
                violation_error_message=_s_lazy("What did not come back is settled on a day."),
            ),
        ]
        # Few at a time, among those of all loans there ever were.
        indexes = [
            models.Index(fields=["loan"], condition=Q(came_back=False, settled_on=None), name="accessory_missing")
        ]
        ordering = ["pk"]

    def __str__(self) -> str:
        """In the reader's language, where it is one of the usual things."""
        return gettext(self.name)

    @property
    def what_became(self) -> str:
        """Of what did not come back: "was replaced on 3 May 2027", "" while nobody has said."""
        if self.settled_on is None:
            return ""
        return _s("%(settled_as)s on %(day)s") % {
            "settled_as": self.get_settled_as_display(),
            "day": day(self.settled_on),
        }

    @property
    def in_words(self) -> str:
        """`case`, or `case (was replaced)`; families read it on their sheet."""
        return f"{self} ({self.get_settled_as_display()})" if self.settled_on else str(self)


# What usually goes out with a school's horn (common practice, no source).
USUAL_ACCESSORIES = (
    "mouthpiece",
    "case",
    "rotor oil",
    "valve oil",
    "slide grease",
    "cleaning cloth",
    "pull-through",
    "carrying strap",
    "music stand",
)
