"""What is found on a shelf that the register does not know: kept while counting, and settled one by one."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.counting.actions.locking import COUNTS, ENDED, SIGNED, locked, record_of_count
from fleet.counting.actions.sightings import taken, times
from fleet.counting.models import Count, Find, Sighting
from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.record.queries.telling import worded
from fleet.register.models import Horn, Place


@transaction.atomic
def keep_find(
    *,
    count: Count,
    words: str,
    place: Place | None,
    key: str,
    waited: timedelta = timedelta(0),
    by: User,
    at: datetime,
) -> Find | Sighting:
    """Something seen under a number or label that no horn has. The same key again gives what is there already."""
    now = locked(count)
    there = taken(now, key)
    if there is not None:
        return there
    if not now.is_open:
        raise Refused(ENDED, way_out=COUNTS)
    seen_at, received_at = times(now, at, waited)
    return Find.objects.create(
        count=now,
        words=words.strip()[:200],
        place=place,
        place_words=str(place or ""),
        key=key,
        seen_at=seen_at,
        received_at=received_at,
        by=by,
    )


@transaction.atomic
def settle_find(*, find: Find, resolution: str, reason: str, horn: Horn | None = None, by: User, at: datetime) -> Find:
    """What it turned out to be, once, with a reason; `horn` where it is one of the register now."""
    count = locked(find.count)
    if count.signed_at:
        raise Refused(SIGNED)
    now = Find.objects.select_for_update(of=("self",)).get(pk=find.pk)
    if now.undone_at:
        raise Refused(_s("“%(now)s” was taken back; there is nothing to say about it.") % {"now": now})
    if now.resolution:
        raise Refused(
            _s("“%(now)s” was resolved already: %(resolution)s.")
            % {"now": now, "resolution": now.get_resolution_display()}
        )
    if not reason.strip():
        raise Refused(_s("Give the reason."))
    if (resolution == Find.Resolution.HORN) != (horn is not None):
        raise Refused(_s("Say which horn of the register it is."))
    now.horn, now.resolution, now.reason = horn, resolution, reason.strip()
    now.resolved_at, now.resolved_by = at, by
    now.save(update_fields=["horn", "resolution", "reason", "resolved_at", "resolved_by"])
    # Not the words: they may name somebody, and no pointer leads from here to whom they name.
    told = [["settled as", worded(now, "resolution")]]
    record_of_count(count, deed=Deed.DIFFERENCE_SETTLED, by=by, at=at, horn=horn, told=told)
    return now
