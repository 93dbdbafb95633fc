"""What was put before families and no loan came of yet."""

from __future__ import annotations

from collections.abc import Collection

from fleet.people.models import School
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature


def waiting_for(horn: Horn) -> OnlineSignature | None:
    """What is on a family's page for this horn, signed or not, and no loan came of yet. One query."""
    found = OnlineSignature.objects.unused().filter(horn=horn).select_related("guardian", "horn", "pupil")
    return found.first()


def of_horns(school: School, horns: Collection[int] | None = None) -> dict[int, OnlineSignature]:
    """What was put before a guardian for these horns, or any of the school's, and no loan came of yet, by horn. One
    query."""
    found = OnlineSignature.objects.at(school).unused()
    if horns is not None:
        found = found.filter(horn__in=horns)
    return {one.horn_id: one for one in found.select_related("agreement", "guardian", "horn", "pupil")}
