"""One line in the log, each time somebody opens a person's page or takes a list along."""

from __future__ import annotations

from fleet.people.models import Guardian, Opening, Pupil
from fleet.people.queries.seats import SeatedRequest


def note_opening(request: SeatedRequest, *, pupil: Pupil | None = None, guardian: Guardian | None = None) -> None:
    """Writes that this person opened, or changed, the page they are on: about one person, or a list of many."""
    page = request.resolver_match.view_name if request.resolver_match else ""
    Opening.objects.create(
        school=request.seat.school, by=request.user, at=request.now, page=page, pupil=pupil, guardian=guardian
    )
