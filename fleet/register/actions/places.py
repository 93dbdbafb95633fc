"""The places where horns are kept."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep_all
from fleet.register.models import Horn, Place

THERE_ALREADY = "There is already a place with this room and shelf."


@transaction.atomic
def keep_place(*, place: Place, room: str, shelf: str, by: User, at: datetime) -> Place:
    """A place written down or renamed. Refused when somebody made the same one a moment ago."""
    was = str(Place.objects.filter(pk=place.pk).first() or "")
    place.room, place.shelf = room, shelf
    try:
        with transaction.atomic():
            place.save()
    except IntegrityError as trouble:
        raise Refused(THERE_ALREADY) from trouble
    if str(place) != was:
        # A horn is found by the name of its place.
        keep_all(Horn.objects.filter(place=place).values_list("pk", flat=True))
        record(deed=Deed.PLACE_KEPT, school=place.school, by=by, at=at, told=[["place", was, str(place)]])
    return place
