"""What counts have to tell of one horn, for its time line."""

from __future__ import annotations

from fleet.counting.models import Find, Line, Sighting
from fleet.register.models import Horn
from fleet.register.queries.told import StoryLine


def story(horn: Horn) -> list[StoryLine]:
    """What was noted in passing and what was resolved, with the count it happened in. Three queries."""
    told = []
    noted = Sighting.objects.filter(line__horn=horn).standing().exclude(note="").select_related("by")
    for one in noted:
        at = f" at {one.place_words}" if one.place_words else ""
        told.append(
            StoryLine(one.seen_at, "counted", f"Noted while counting{at}: {one.note}", str(one.by), _to(one.count_id))
        )
    resolved = Line.objects.filter(horn=horn).exclude(resolution="").select_related("resolved_by")
    for line in resolved:
        sentence = f"Counted, {line.get_outcome_display()}: {line.get_resolution_display()}. {line.reason}"
        assert line.resolved_at is not None, "a resolution has its time, by constraint"
        told.append(StoryLine(line.resolved_at, "counted", sentence, str(line.resolved_by), _to(line.count_id)))
    for found in Find.objects.filter(horn=horn).select_related("by"):
        at = f" at {found.place_words}" if found.place_words else ""
        told.append(
            StoryLine(
                found.seen_at, "counted", f"Found while counting{at} as “{found}”.", str(found.by), _to(found.count_id)
            )
        )
    return told


def _to(count: int) -> tuple[str, int]:
    return ("counting:count", count)
