"""Whether a horn may be lent, as far as its own row says."""

from __future__ import annotations

from fleet.ground.refusal import Refused, WayOut
from fleet.register.models import Horn


def grade_blocks_loan(horn: Horn) -> Refused | None:
    """Why this horn's condition keeps it from being lent, with the way out, or None. No query."""
    if horn.grade is None:
        return Refused(
            f"{horn} has never been checked.",
            way_out=WayOut("workshop:check-new", "Check its condition now", (horn.pk,)),
        )
    if horn.grade >= Horn.Grade.REPAIR_FIRST:
        way_out = WayOut("workshop:job-new", "Go to its repair job", (horn.pk,))
        return Refused(f"{horn} is graded {horn.grade}, {Horn.Grade(horn.grade).label}.", way_out=way_out)
    return None
