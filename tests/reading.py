"""What the one reader tells of one horn, and its story."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from fleet.register.models import Horn
from fleet.register.queries.at_once import AtOnce
from fleet.register.queries.horns_now import HornNow, horns_now
from fleet.register.queries.story import Story, StoryPart, story_from, told_of


def horn_now(horn: Horn, *, today: date) -> HornNow:
    return horns_now([horn.pk], school=horn.school, today=today)[horn.pk]


def story_of(horn: Horn, parts: Iterable[StoryPart] = ()) -> Story:
    """The horn's story, as these or all slices tell it."""
    [(_, rows)] = AtOnce(Horn.objects.all(), told_of())([horn.pk])
    story = story_from(horn, rows)
    return Story(horn, [one for one in story.found if one[0] in parts]) if parts else story
