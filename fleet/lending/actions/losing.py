"""A horn that was lost in the family's hands."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.lending.actions.returning import end
from fleet.lending.actions.running import locked_while_running, record_of
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Standing


@transaction.atomic
def lose(*, loan: Loan, words: str, by: User, at: datetime) -> Loan:
    """Ends the loan of a horn that was lost in the family's hands; the register holds it as not found from now on.

    Found again, it is looked over, and its mouthpiece cleaned, before anybody else plays it. Raises Refused when
    the loan has ended or nobody says what happened.
    """
    horn, loan = locked_while_running(loan)
    words = words.strip()
    if not words:
        raise Refused("Say in a few words how it was lost.")
    loan.lost_words = words
    end(loan, horn=horn, came_back=(), rest=False, by=by, on=timezone.localdate(at), at=at)
    reason = f"Lost while on loan: {words}"[:300]
    change_standing(horn=horn, kind=Standing.Kind.NOT_FOUND, reason=reason, by=by, at=at, on=loan.returned_on)
    record_of(loan, deed=Deed.LOAN_LOST, by=by, at=at, told=[["words", words]])
    return loan
