"""A horn's story, told by the slices, each its share: `STORY` in the modules of `settings.TELL_OF_HORNS`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple, TypeVar

from django.db.models import Model, OuterRef, Prefetch, QuerySet, prefetch_related_objects
from django.utils.translation import gettext as _s

from fleet.register.models import Horn
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
    """Rows of one sort with all that is needed to tell them, their look-up to the horn, and the lines of one. What many
    rows hang on one is fetched `along`, a query each."""

    rows: Callable[[], QuerySet[Any]]
    lines: Callable[[Any], Iterable[StoryLine]]
    horn: str = "horn"
    along: Callable[[], Iterable[str | Prefetch[Any]]] = tuple


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


def told_of() -> dict[str, QuerySet[Any]]:
    """What the story of a horn is told from, by all slices, to be read along with the horn itself."""
    return {f"story {n}": one.rows().filter(**{one.horn: OuterRef("pk")}) for n, one in enumerate(_parts())}


def story_from(horn: Horn, rows: Mapping[str, list[Any]]) -> Story:
    """The horn's story from the rows read along with it. One query for each sort of what hangs on those."""
    found = [(one, rows[f"story {n}"]) for n, one in enumerate(_parts())]
    for part, of in found:
        prefetch_related_objects(of, *part.along())
    return Story(horn, found)


def _parts() -> list[StoryPart]:
    return [one for teller in tellers() for one in teller.STORY]
