"""A loan locked while it runs, and what happens to it as the record of acts has it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.locking import locked_by_key
from fleet.register.models import Horn


def locked_while_running(loan: Loan) -> tuple[Horn, Loan]:
    """The locked horn and the loan as it is now; Refused when it has ended."""
    horn = locked_by_key(loan.horn_id)
    loan = Loan.objects.select_related("horn__school", "pupil", "guardian", "agreement").get(pk=loan.pk)
    if loan.returned_on is not None:
        raise Refused(gettext("This loan ended on %(day)s.") % {"day": day(loan.returned_on)})
    return horn, loan


def refuse_leaver(loan: Loan, today: date) -> None:
    """Raises Refused when the pupil has left the school, or is to: such a horn comes back and is lent no longer."""
    if loan.pupil.left_on is not None:
        said = (
            gettext("%(pupil)s leaves the school on %(day)s: the horn comes back, it is not renewed.")
            if loan.pupil.left_on > today
            else gettext("%(pupil)s left the school on %(day)s: the horn comes back, it is not renewed.")
        )
        raise Refused(said % {"pupil": loan.pupil, "day": day(loan.pupil.left_on)})


def record_of(loan: Loan, *, deed: Deed, by: User, at: datetime, told: Sequence[Sequence[str]] = ()) -> None:
    """Writes an act about the horn, the pupil and the guardian of a loan."""
    about = {"horn": loan.horn, "pupil": loan.pupil, "guardian": loan.guardian}
    record(deed=deed, school=loan.horn.school, by=by, at=at, told=told, **about)
