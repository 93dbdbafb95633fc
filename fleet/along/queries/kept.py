"""What a phone keeps of a school: horns, places and open counts. No person, no letter, no value, no note."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fleet.counting.models import Count
from fleet.people.models import School, User
from fleet.register.models import Horn, Place
from fleet.register.models.kinds import kind_and_stand
from fleet.register.queries.identifying import confirmed_mix
from fleet.register.queries.numbers import next_free
from identify.core.reasoning.scales import scales

# Without a connection for so long, what is kept goes by itself.
DAYS = 14


def kept(school: School, by: User, now: datetime) -> dict[str, Any]:
    """Of every horn that is kept what is needed to find it and to see what it is; who has it is not told. A few
    queries, however many horns."""
    horns = Horn.objects.at(school).kept().select_related("place").order_by("number_stem", "number_tail", "pk")
    places = Place.objects.filter(school=school).order_by("room", "shelf", "pk")
    return {
        "made": now.isoformat(),
        "by": by.pk,
        "days": DAYS,
        "horns": [_horn(one) for one in horns],
        "places": [{"id": one.pk, "name": str(one)} for one in places],
        "counts": [one.title for one in Count.objects.at(school).unsigned().order_by("started_at", "pk")],
        "next_number": next_free(school),
        "shares": scales().build_shares(confirmed_mix(school)),
    }


def _horn(one: Horn) -> dict[str, Any]:
    return {
        "id": one.pk,
        "number": one.number,
        "label": one.label_code,
        "build": one.build,
        "kind": kind_and_stand(one.build, one.stands_in) or "not identified",
        "place": str(one.place or ""),
        "where": Horn.Where(one.where).label,
        "condition": one.get_grade_display() or "never looked over",
    }
