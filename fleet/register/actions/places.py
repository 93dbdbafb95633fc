"""The places where horns are kept."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.people.actions.schools import locked_school
from fleet.people.models import User
from fleet.record.actions.pointing import lead_over, tie_over
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.locking import locked_all
from fleet.register.models import Horn, Place

THERE_ALREADY = _s_lazy("There is already a place with this room and shelf.")
PUT_TOGETHER = _s_lazy("This place was put together with another meanwhile. Look again.")


@transaction.atomic
def keep_place(*, place: Place, room: str, shelf: str, by: User, at: datetime) -> Place:
    """A place written down or renamed. Refused when somebody made the same one a moment ago."""
    before = Place.objects.select_for_update().filter(pk=place.pk).first()
    if place.pk and before is None:
        raise Refused(PUT_TOGETHER)
    was = str(before or "")
    place.room, place.shelf = room, shelf
    try:
        with transaction.atomic():
            place.save()
    except IntegrityError as trouble:
        raise Refused(THERE_ALREADY) from trouble
    if str(place) != was:
        # A horn is found by the name of its place.
        keep_all(Horn.objects.filter(place=place).values_list("pk", flat=True))
        if before is not None:
            _plans_follow(before, place)
        record(deed=Deed.PLACE_KEPT, school=place.school, by=by, at=at, told=[["place", was, str(place)]])
    return place


@transaction.atomic
def merge_places(*, twice: Place, into: Place, by: User, at: datetime) -> Place:
    """One place that was written down twice: horns, counts and what was seen there go to `into`, and `twice` is gone.

    What a count says in words of where something was stays as it was said. It cannot be undone.
    """
    if twice.pk == into.pk or twice.school_id != into.school_id:
        raise Refused(_s("Choose another place of this school."))
    # Who moves or registers a horn holds the school; the horns come before their places, as everywhere.
    school = locked_school(into.school_id)
    horns = list(locked_all(Horn.objects.filter(place=twice).values_list("pk", flat=True)))
    rows = Place.objects.select_for_update().order_by("pk").in_bulk([twice.pk, into.pk])
    if len(rows) < 2:
        raise Refused(PUT_TOGETHER)
    gone, now = rows[twice.pk], rows[into.pk]
    lead_over(gone, now)
    tie_over(gone, now)
    record(
        deed=Deed.PLACES_MERGED,
        school=school,
        by=by,
        at=at,
        told=[["place", str(gone), str(now)], ["horns kept there", str(len(horns))]],
    )
    gone.delete()
    _plans_follow(gone, now)
    keep_all(horns)
    return now


def _plans_follow(before: Place, now: Place) -> None:
    """A class whose plan says that room plays in the one it became, unless another place of it is left."""
    if not Place.objects.filter(school=now.school_id, room=before.room).exists():
        now.school.class_plans.filter(room=before.room).update(room=now.room)


def there_still(place: Place | None) -> None:
    """Refuses a place that was put together with another meanwhile. The caller holds the school."""
    if place is not None and not Place.objects.filter(pk=place.pk).exists():
        raise Refused(PUT_TOGETHER)
