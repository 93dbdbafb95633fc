"""Horns seen while counting, and sightings taken back."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.counting.actions.counts import line_of
from fleet.counting.actions.locking import COUNTS, ENDED, locked
from fleet.counting.models import Count, Find, Line, Sighting
from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.register.models import Horn, Place


@transaction.atomic
def see(
    *,
    count: Count,
    horn: Horn,
    place: Place | None,
    key: str,
    note: str = "",
    waited: timedelta = timedelta(0),
    by: User,
    at: datetime,
) -> Sighting | Find:
    """A horn seen at a place, `waited` ago. The same key again gives what is there already."""
    now = locked(count)
    there = taken(now, key)
    if there is not None:
        return there
    if not now.is_open:
        raise Refused(ENDED, way_out=COUNTS)
    line = Line.objects.filter(count=now, horn=horn).first()
    if line is None:
        if now.is_sample:
            raise Refused(
                _s("%(horn)s is not in this sample: leave it out, or the sample would no longer be random.")
                % {"horn": horn}
            )
        line = line_of(now, horn, expected=False)
        line.save()
    seen_at, received_at = times(now, at, waited)
    return Sighting.objects.create(
        count=now,
        line=line,
        key=key,
        place=place,
        place_words=str(place or ""),
        note=note,
        seen_at=seen_at,
        received_at=received_at,
        by=by,
    )


def taken(count: Count, key: str) -> Sighting | Find | None:
    """What was kept under that key already. A number that meant no horn when it was first sent stays a find."""
    seen = Sighting.objects.filter(count=count, key=key).select_related("line").first()
    return seen or Find.objects.filter(count=count, key=key).first()


def times(count: Count, at: datetime, waited: timedelta) -> tuple[datetime, datetime]:
    """When it was seen and when it was received, neither before the count began, whatever a phone's clock says."""
    received_at = max(at, count.started_at)
    return min(received_at, max(count.started_at, at - waited)), received_at


@transaction.atomic
def undo(*, sighting: Sighting | Find, by: User, at: datetime) -> Sighting | Find:
    """A tap on the wrong horn, or a number misread: it stays on record and no longer counts."""
    now = locked(sighting.count)
    if not now.is_open:
        raise Refused(ENDED)
    mine = type(sighting).objects.get(pk=sighting.pk)
    if mine.undone_at is None:
        mine.undone_at, mine.undone_by = at, by
        mine.save(update_fields=["undone_at", "undone_by"])
    return mine
