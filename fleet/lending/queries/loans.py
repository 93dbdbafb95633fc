"""The loan a horn is out on, and the one that ended last."""

from __future__ import annotations

from fleet.lending.models import Loan
from fleet.register.models import Horn


def current_loan(horn: Horn) -> Loan | None:
    """The loan the horn is out on, with its pupil and guardian."""
    return horn.loans.open().select_related("pupil", "guardian").first()


def last_ended(horn: Horn) -> Loan | None:
    return horn.loans.ended().order_by("-returned_on", "-pk").first()
