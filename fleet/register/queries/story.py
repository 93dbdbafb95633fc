"""A horn's story, told by the slices, each its share: `STORY` in the modules of `settings.TELL_OF_HORNS`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple, TypeVar

from django.db.models import Exists, Model, OuterRef, QuerySet
from django.utils.translation import gettext as _s

from fleet.register.models import Horn, HornQuerySet
from fleet.register.queries.kept import tellers

Row = TypeVar("Row", bound=Model)


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


@dataclass(frozen=True, slots=True)
class Story:
    """The rows from which a horn's story is told. What else a page shows of them it takes from here."""

    horn: Horn
    found: list[tuple[StoryPart, list[Any]]]

    def rows(self, model: type[Row]) -> list[Row]:
        """All of one sort that the horn has, as they are ordered."""
        return [row for _, rows in self.found for row in rows if isinstance(row, model)]

    def told(self) -> list[StoryLine]:
        """What the rows tell, newest first."""
        lines = [line for part, rows in self.found for row in rows for line in part.lines(row)]
        return sorted(lines, key=lambda line: line.at, reverse=True)

    def whole(self) -> list[StoryLine]:
        """That and how the horn came to be registered, newest first."""
        horn = self.horn
        registered = StoryLine(horn.created, "registered", _s("Put on the register."), str(horn.created_by or ""))
        # Last of what was in the same moment, so that what was found while registering it stands above.
        return sorted([*self.told(), registered], key=lambda line: line.at, reverse=True)


def told_of(horns: HornQuerySet) -> HornQuerySet:
    """The horns, each with what there is to tell of it: their story then takes one query less."""
    return horns.annotate(**_there(_of_all()))


def story_of(horn: Horn, parts: Iterable[StoryPart] | None = None) -> Story:
    """The horn's story, as these or all slices know it. One query, and one for each that has something to tell."""
    asked = _of_all() if parts is None else list(parts)
    has: dict[str, Any] = vars(horn)
    if parts is not None or "tells_0" not in has:
        has = dict(Horn.objects.filter(pk=horn.pk).values(**_there(asked)).get())
    found = [one for n, one in enumerate(asked) if has[f"tells_{n}"]]
    return Story(horn, [(one, list(one.rows().filter(**{one.horn: horn}))) for one in found])


def _of_all() -> list[StoryPart]:
    return [one for teller in tellers() for one in teller.STORY]


def _there(parts: list[StoryPart]) -> dict[str, Exists]:
    return {
        f"tells_{n}": Exists(one.rows().order_by().filter(**{one.horn: OuterRef("pk")})) for n, one in enumerate(parts)
    }
