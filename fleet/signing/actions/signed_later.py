"""The sheet of a loan that came in by a list, signed after all."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.running import locked_while_running, record_of
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep


@transaction.atomic
def record_signed(*, loan: Loan, signed_on: date, by: User, at: datetime) -> Loan:
    """The guardian has signed the loan's sheet. Refused when it is signed already, has ended, or on a day to come."""
    horn, loan = locked_while_running(loan)
    if loan.signed_on is not None:
        raise Refused(
            _s("%(guardian)s signed for %(horn)s on %(signed_on)s already.")
            % {"guardian": loan.guardian, "horn": horn, "signed_on": day(loan.signed_on)}
        )
    if signed_on > timezone.localdate(at):
        raise Refused(
            _s("The guardian cannot have signed on %(signed_on)s: that day has not come yet.")
            % {"signed_on": day(signed_on)}
        )
    loan.signed_on, loan.language = signed_on, loan.guardian.speaks
    loan.save(update_fields=["signed_on", "language"])
    keep([horn])
    record_of(loan, deed=Deed.SHEET_SIGNED, by=by, at=at, told=[["signed", signed_on.isoformat()]])
    return loan
