"""A return that is noted where the horn came in, before somebody takes it back."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.people.models import School, User
from fleet.workshop.models import ConditionCheck


class ReturnNoteQuerySet(models.QuerySet["ReturnNote"]):
    def at(self, school: School) -> ReturnNoteQuerySet:
        return self.filter(loan__school=school)

    def standing(self) -> ReturnNoteQuerySet:
        """Those of horns that nobody has taken back yet."""
        return self.filter(loan__returned_on=None)


class ReturnNote(models.Model):
    """What somebody saw when a horn came back, without a connection. It counts until the loan ends."""

    loan = models.OneToOneField("loans.Loan", on_delete=models.CASCADE, related_name="noted")
    # Of the usual accessories only: what went along with this horn is not known where it is noted.
    came_back = models.JSONField(default=list)
    finish_grade = models.PositiveSmallIntegerField(choices=ConditionCheck.FinishGrade.choices)
    words = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    # When the site had it, where it waited for a connection.
    received_at = models.DateTimeField(null=True, blank=True)
    # Made by the browser that sends it: sent again after a lost answer, it is still one note.
    sent_as = models.UUIDField(null=True, blank=True, editable=False)

    objects = ReturnNoteQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["sent_as"],
                name="return_noted_once",
                violation_error_message=_s_lazy("This return is noted already."),
            ),
        ]
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        """`with case, mouthpiece, finish light wear: bell scratched`."""
        seen = _s("with %(things)s, finish %(finish)s") % {
            "things": ", ".join(map(_s, self.came_back)) or _s("nothing"),
            "finish": self.get_finish_grade_display(),
        }
        return f"{seen}: {self.words}" if self.words else seen
