"""A horn's story, told by the slices, each its share: `STORY` in the modules of `settings.TELL_OF_HORNS`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _s

from fleet.register.models import Horn
from fleet.register.queries.kept import tellers


class StoryLine(NamedTuple):
    """One line of the story; `link` is a view name with its key, or None."""

    at: datetime
    kind: str
    sentence: str
    by: str = ""
    link: tuple[str, int] | None = None


@dataclass(frozen=True, slots=True)
class StoryPart:
    """Rows of one sort with all that is needed to tell them, their look-up to the horn, and the lines of one."""

    rows: Callable[[], QuerySet[Any]]
    lines: Callable[[Any], Iterable[StoryLine]]
    horn: str = "horn"


def told_of(horn: Horn, parts: Iterable[StoryPart]) -> list[StoryLine]:
    """What these tell of the horn, newest first. One query, and one for each that has something to tell."""
    asked = list(parts)
    there = [Exists(one.rows().order_by().filter(**{one.horn: OuterRef("pk")})) for one in asked]
    has = Horn.objects.filter(pk=horn.pk).values_list(*there).get()
    rows = ((one, one.rows().filter(**{one.horn: horn})) for one, says in zip(asked, has, strict=True) if says)
    lines = [line for part, found in rows for row in found for line in part.lines(row)]
    return sorted(lines, key=lambda line: line.at, reverse=True)


def story(horn: Horn) -> list[StoryLine]:
    """The horn's whole story, newest first."""
    told = told_of(horn, (one for teller in tellers() for one in teller.STORY))
    registered = StoryLine(horn.created, "registered", _s("Put on the register."), str(horn.created_by or ""))
    # Last of what was in the same moment, so that what was found while registering it stands above.
    return sorted([*told, registered], key=lambda line: line.at, reverse=True)
