"""What somebody still has to do about a horn: how a slice says it, for one horn or for all of a school."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db.models import QuerySet

from fleet.ground.refusal import WayOut
from fleet.people.models import School
from fleet.people.queries.seats import Seat


@dataclass(frozen=True, slots=True)
class Owed:
    """One thing owed about one horn: in a few words what is to be done and why, the page where it is done, since when
    where those words name no day, and whether it is late. What sort it is and the key of its horn says the `Owing`."""

    what: str
    why: str
    way: WayOut
    since: date | None = None
    late: bool = False
    code: str = ""
    horn: int = 0

    def address(self, seat: Seat) -> str:
        """Where it is done; who may not do it reads about it on the horn's own page."""
        return seat.way(self.way) or seat.here("desk:horn", self.horn)


@dataclass(frozen=True, slots=True)
class Owing:
    """One sort of thing owed, told by the slice that knows it.

    `rows` are the rows that say it about the horns of one school, the most pressing first; `horn` is the look-up from
    such a row to its horn; `in_words` puts one row in words. `everything` is the list that shows all of them, with its
    query, "" where there is none; `among_others` says that it shows more than these.
    """

    code: str
    title: str
    rows: Callable[[School, date], QuerySet[Any]]
    in_words: Callable[[Any, date], Owed]
    horn: str = "horn_id"
    everything: tuple[str, str] | None = None
    among_others: bool = False

    @property
    def is_of_row(self) -> bool:
        """Whether the horn's own row says it."""
        return self.horn == "pk"

    def said(self, row: Any, today: date) -> Owed:
        """One row in words."""
        return replace(self.in_words(row, today), code=self.code, horn=self.key_of(row))

    def key_of(self, row: Any) -> int:
        """The key of the horn that a row is about."""
        for name in self.horn.split("__"):
            row = getattr(row, name)
        return int(row)

    def horns(self, school: School, today: date) -> QuerySet[Any]:
        """The keys of the school's horns about which it is owed."""
        return self.rows(school, today).order_by().values(self.horn)
