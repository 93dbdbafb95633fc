"""The places where horns are kept."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.register.models import Place

THERE_ALREADY = "There is already a place with this room and shelf."


@transaction.atomic
def keep_place(*, place: Place, room: str, shelf: str, by: User, at: datetime) -> Place:
    """A place written down or renamed. Refused when somebody made the same one a moment ago."""
    place.room, place.shelf = room, shelf
    try:
        with transaction.atomic():
            place.save()
    except IntegrityError as trouble:
        raise Refused(THERE_ALREADY) from trouble
    return place
