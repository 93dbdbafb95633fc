"""The demo school's counts, told by fixtures/demo.toml: one signed, one ended, one still open."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from fleet.counting.actions import counts, differences, sightings
from fleet.counting.actions.finds import keep_find, settle_find
from fleet.counting.models import Count, Find, Line
from fleet.people.models import School, User
from fleet.register.models import Horn, Place


def count_as_told(plan: Mapping[str, Any], *, school: School, horns: Mapping[str, Horn], began: datetime) -> Count:
    """Counts as the plan says, from `began` on; `horns` are by serial number."""
    people = {user.email: user for user in User.objects.filter(posts__school=school)}
    places = {str(place): place for place in school.places.all()}
    at = began
    where = [places[words] for words in plan.get("places", [])]
    count = counts.begin(school=school, places=where, by=people[plan["begun_by"]], at=at)
    for number, shelf in enumerate(plan["shelves"]):
        at += timedelta(minutes=20)
        _shelf(shelf, count, places[shelf["place"]], horns, people[shelf["by"]], at, f"demo-shelf-{number}")
    if "ends" not in plan:
        return count
    counts.end(count=count, by=people[plan["begun_by"]], at=at + timedelta(minutes=10))
    if "signed_by" not in plan:
        return count
    head = people[plan["signed_by"]]
    at += timedelta(days=1)
    for one in plan["resolved"]:
        said = {"resolution": one["resolution"], "reason": one["reason"], "by": head, "at": at}
        if "find" in one:
            settle_find(find=Find.objects.get(count=count, words=one["find"]), **said)
        else:
            differences.resolve(line=Line.objects.get(count=count, horn=horns[one["horn"]]), **said)
    return counts.sign(count=count, by=head, at=at + timedelta(hours=1))


def _shelf(
    plan: Mapping[str, Any],
    count: Count,
    place: Place,
    horns: Mapping[str, Horn],
    by: User,
    at: datetime,
    key: str,
) -> None:
    """Every horn of the list that should stand there but those unseen, then what was seen or found besides."""
    unseen = {horns[serial].pk for serial in plan.get("unseen", [])}
    notes = {horns[serial].pk: words for serial, words in plan.get("notes", {}).items()}
    listed = Line.objects.filter(count=count, place=place, where_at_start=Horn.Where.IN_PLACE).exclude(horn__in=unseen)
    seen = [line.horn for line in listed.select_related("horn")] + [horns[serial] for serial in plan.get("also", [])]
    for number, horn in enumerate(seen):
        note = notes.get(horn.pk, "")
        sightings.see(count=count, horn=horn, place=place, key=f"{key}-{number:03}", note=note, by=by, at=at)
    for number, words in enumerate(plan.get("finds", [])):
        keep_find(count=count, words=words, place=place, key=f"{key}-find-{number:03}", by=by, at=at)
