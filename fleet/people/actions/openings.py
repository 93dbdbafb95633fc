"""One line in the log, each time somebody opens a person's page or takes a list along."""

from __future__ import annotations

from datetime import datetime

from fleet.people.models import Guardian, Opening, Pupil, School, User


def note(
    *, school: School, page: str, pupil: Pupil | None = None, guardian: Guardian | None = None, by: User, at: datetime
) -> Opening:
    """Writes that this person opened, or changed, the page of that name: about one person, or a list of many."""
    return Opening.objects.create(school=school, by=by, at=at, page=page, pupil=pupil, guardian=guardian)
