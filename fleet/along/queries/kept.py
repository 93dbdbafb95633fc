"""What a phone keeps of a school: horns, places and open counts. No person, no letter, no value, no note."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.along.queries.checked import Asked, checked_for, findings
from fleet.counting.models import Count, Line, Sighting
from fleet.ground.wording import in_reading_order
from fleet.lending.models.accessories import USUAL_ACCESSORIES
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn, Place
from fleet.register.queries.identifying import confirmed_mix
from fleet.register.queries.numbers import next_free
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.queries.condition import latest_checks_of, open_findings_of, usual_occasion

LINE = ("horn", "number", "place", "place_words", "seen")
# Without a connection for so long, what is kept goes by itself.
DAYS = 14


def kept(seat: Seat, now: datetime) -> dict[str, Any]:
    """Of every horn that is kept what is needed to find it and to see what it is; who has it is not told. A few
    queries, however many horns."""
    from identify.core.reasoning.scales import scales

    school = seat.school
    found = Horn.objects.at(school).kept().select_related("place")
    horns = list(found.by_number())
    looks = latest_checks_of(one.pk for one in horns)
    wrong, asked = open_findings_of(one.pk for one in horns), Asked()
    return {
        "made": now.isoformat(),
        "by": seat.user.pk,
        "days": DAYS,
        "horns": [{**_horn(one, looks.get(one.pk), wrong.get(one.pk, [])), "asks": asked.of(one)} for one in horns],
        "asks": asked.lists,
        "kinds_ask": asked.kinds,
        "checked_for": checked_for(),
        "places": [{"id": one.pk, "name": str(one)} for one in Place.objects.filter(school=school)],
        "counts": _counts(school),
        "takes_back": seat.may("loans:back", write=True),
        "accessories": [(one, _s(one)) for one in USUAL_ACCESSORIES],
        "finishes": ConditionCheck.FinishGrade.choices,
        "occasions": ConditionCheck.Occasion.choices,
        "grades": Horn.Grade.choices,
        "next_number": next_free(school),
        "shares": scales().build_shares(confirmed_mix(school)),
    }


def _horn(one: Horn, look: ConditionCheck | None, wrong: list[Finding]) -> dict[str, Any]:
    return {
        "id": one.pk,
        "number": one.number,
        "label": one.label_code,
        "build": one.build,
        "kind": one.what_it_is,
        "place": str(one.place or ""),
        "place_id": one.place_id,
        "out": one.whereabouts.is_with_family,
        "where": one.whereabouts.state,
        "in_place": one.whereabouts.code == Horn.Where.IN_PLACE and not one.whereabouts.noted,
        "condition": one.get_grade_display() or _s("never looked over"),
        "grade": one.grade,
        "seen": look.pk if look else 0,
        "finish": look.finish_grade if look else None,
        "occasion": usual_occasion(one),
        "found": findings(wrong),
    }


def _counts(school: School) -> list[dict[str, Any]]:
    """Counts that go on, with the horns that are on their lists, where each belongs, and whether somebody saw it."""
    found = list(Count.objects.at(school).open().order_by("started_at", "pk"))
    seen = Exists(Sighting.objects.filter(line=OuterRef("pk")).standing())
    lines = Line.objects.filter(count__in=found, expected=True).annotate(seen=seen).order_by("pk")
    listed = defaultdict(list)
    for line in sorted(lines.values("count", *LINE), key=lambda line: in_reading_order(line["place_words"])):
        listed[line["count"]].append({name: line[name] for name in LINE})
    return [
        {
            "id": one.pk,
            "title": one.in_words,
            "send": reverse("counting:sent", args=(school.slug, one.pk)),
            "lines": listed[one.pk],
        }
        for one in found
    ]
