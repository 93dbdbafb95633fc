"""What happens to a loan, as the record of acts has it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed


def record_of(loan: Loan, *, deed: Deed, by: User, at: datetime, told: Sequence[Sequence[str]] = ()) -> None:
    """Writes an act about the horn, the pupil and the guardian of a loan."""
    about = {"horn": loan.horn, "pupil": loan.pupil, "guardian": loan.guardian}
    record(deed=deed, school=loan.horn.school, by=by, at=at, told=told, **about)
