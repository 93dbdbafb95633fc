"""One line in the log, each time somebody opens a person's page or takes a list along."""

from __future__ import annotations

from contextlib import nullcontext
from datetime import datetime

from django.db import transaction

from fleet.people.models import Guardian, Opening, Pupil, School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed

# Pages on which everything about a person is taken along.
OF_PUPIL = {"desk:pupil-data": Deed.TAKEN_OF_PUPIL}


def note(
    *, school: School, page: str, pupil: Pupil | None = None, guardian: Guardian | None = None, by: User, at: datetime
) -> Opening:
    """Writes that this person opened, or changed, the page of that name: about one person, or a list of many."""
    one_person = pupil is not None or guardian is not None
    deed = OF_PUPIL.get(page) if one_person else Deed.TAKEN_ALONG
    with transaction.atomic() if deed is not None else nullcontext():
        if deed is not None:
            record(deed=deed, school=school, by=by, at=at, pupil=pupil, guardian=guardian)
        return Opening.objects.create(school=school, by=by, at=at, page=page, pupil=pupil, guardian=guardian)
