"""Who is counting where at this moment: a phone's own camera opens a label's bare address and tells no more."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse

from fleet.counting.models import Count, Line, Sighting
from fleet.counting.queries.shelves import AT_IT, counting_now
from fleet.people.models import School, User
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn, Place

KEPT = "counting_at"
# Somebody who stays at a shelf is noted again after this long, not with every page.
AGAIN = timedelta(minutes=10)
# A label read by somebody who has not begun to count yet belongs to a count that began this short a while ago.
FRESH = timedelta(days=1)


def stand_at(request: SeatedRequest, count: Count, place: Place | None) -> None:
    """The shelf whose page this person opened last."""
    kept = request.session.get(KEPT)
    now = int(request.now.timestamp())
    where = [count.pk, place.pk if place else None]
    if isinstance(kept, dict) and kept.get("where") == where and now - kept.get("at", 0) < AGAIN.total_seconds():
        return
    request.session[KEPT] = {"where": where, "at": now}


def shelf_for(request: HttpRequest, user: User, horn: Horn) -> str | None:
    """The address that offers to count this horn where its reader stands; None for somebody who is not counting.

    Who has not said yet where they stand is asked that first, while a count that lists the horn is fresh.
    """
    school, now = horn.school, request.now  # type: ignore[attr-defined]
    at = _stood(request, school, now) or counting_now(user, school, now)
    label = {"label": horn.label_code}
    if at is not None:
        count, place = at
        query = urlencode({**({"place": place} if place else {}), **label})
        return f"{reverse('counting:shelf', args=(school.slug, count))}?{query}"
    unseen = Line.objects.filter(horn=horn, expected=True, count__ended_at=None, count__started_at__gte=now - FRESH)
    seen = Sighting.objects.filter(line__horn=horn, count__ended_at=None).standing().values("line")
    begun = unseen.exclude(pk__in=seen).values_list("count", flat=True).first()
    return f"{reverse('counting:count', args=(school.slug, begun))}?{urlencode(label)}" if begun else None


def _stood(request: HttpRequest, school: School, now: datetime) -> tuple[int, int | None] | None:
    kept = request.session.get(KEPT)
    if not isinstance(kept, dict) or now.timestamp() - kept["at"] > AT_IT.total_seconds():
        return None
    count, place = kept["where"]
    return (count, place) if Count.objects.at(school).open().filter(pk=count).exists() else None
