"""What counts have to tell of horns: the time line of one. Nothing is kept of it on the horn, nothing owed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _s

from fleet.counting.models import Find, Line, Sighting
from fleet.register.queries.owing import Owing
from fleet.register.queries.story import StoryLine, StoryPart

OWING: tuple[Owing, ...] = ()


def kept() -> dict[str, Any]:
    return {}


def _of_sighting(one: Sighting) -> Iterator[StoryLine]:
    said = _s("Noted while counting: %(note)s")
    if one.place_words:
        said = _s("Noted while counting at %(place)s: %(note)s")
    sentence = said % {"place": one.place_words, "note": one.note}
    yield StoryLine(one.seen_at, "counted", sentence, str(one.by), _to(one.count_id))


def _of_line(line: Line) -> Iterator[StoryLine]:
    sentence = _s("Counted, %(outcome)s: %(resolution)s. %(reason)s") % {
        "outcome": line.get_outcome_display(),
        "resolution": line.get_resolution_display(),
        "reason": line.reason,
    }
    assert line.resolved_at is not None, "a resolution has its time, by constraint"
    yield StoryLine(line.resolved_at, "counted", sentence, str(line.resolved_by), _to(line.count_id))


def _of_find(found: Find) -> Iterator[StoryLine]:
    said = _s("Found while counting as “%(words)s”.")
    if found.place_words:
        said = _s("Found while counting at %(place)s as “%(words)s”.")
    sentence = said % {"place": found.place_words, "words": found}
    yield StoryLine(found.seen_at, "counted", sentence, str(found.by), _to(found.count_id))


def _to(count: int) -> tuple[str, int]:
    return ("counting:count", count)


STORY = (
    StoryPart(
        lambda: Sighting.objects.standing().exclude(note="").select_related("by"), _of_sighting, horn="line__horn"
    ),
    StoryPart(lambda: Line.objects.exclude(resolution="").select_related("resolved_by"), _of_line),
    StoryPart(lambda: Find.objects.select_related("by"), _of_find),
)
