"""The list of horns as a table. The rows come in order already; the table draws them.

The library describes the columns and their headings. Cells are made here by plain functions: its own way, which
looks at each cell's renderer anew, took most of the page's time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

import django_tables2 as tables
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2.data import TableListData

from fleet.ground.badges import badge
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.models.kinds import stand_in_words
from fleet.register.pages.badges import grade_badge, where_badge

_NOT_IDENTIFIED = badge("care", "?", "not identified")
# An empty cell would read as if nothing kept the horn from being lent.
_NOT_CHECKED = format_html('<span class="{}">not checked yet</span>', "quiet")


class InOrder(TableListData):
    """Rows that the database has put in order."""

    def order_by(self, aliases: Any) -> None:
        pass


class Heading(NamedTuple):
    header: str


class Row(NamedTuple):
    items: list[tuple[Heading, str | SafeString]]


def _not_identified(described_as: str) -> SafeString:
    if not described_as:
        return _NOT_IDENTIFIED
    return format_html('{} <span class="quiet">“{}”</span>', _NOT_IDENTIFIED, described_as)


def _day(day: date | None) -> str:
    """A day that stays on one line."""
    return date_format(day, "j M Y").replace(" ", "\u00a0") if day else ""


CELLS: dict[str, Callable[[Horn], str | SafeString]] = {
    "build": lambda horn: horn.kind if horn.build else _not_identified(horn.described_as),
    "stands_in": lambda horn: stand_in_words(horn.stands_in),
    "where": lambda horn: where_badge(horn.where),
    "holder": lambda horn: horn.holder_name,
    "due": lambda horn: _day(horn.due_on),
    "place": lambda horn: str(horn.place or ""),
    "grade": lambda horn: grade_badge(horn.grade) if horn.grade else _NOT_CHECKED,
    "checked": lambda horn: _day(horn.checked_on),
}


class HornTable(tables.Table):
    number = tables.Column("Number")
    build = tables.Column("What it is")
    stands_in = tables.Column("Stands in")
    where = tables.Column("Where it is")
    holder = tables.Column("Who has it")
    due = tables.Column("Due")
    place = tables.Column("Place", orderable=False)
    grade = tables.Column("Plays")
    checked = tables.Column("Checked")

    def __init__(self, rows: Sequence[Horn], *, school: School, sort: str) -> None:
        # The horn's address but for its key, so that it is looked up once and not for every row.
        before, _, after = reverse("desk:horn", args=(school.slug, 0)).rpartition("0")
        self._link = (before, after)
        super().__init__(InOrder(list(rows)), order_by=sort)

    @property
    def paginated_rows(self) -> Iterator[Row]:
        number, *others = [(column.name, Heading(column.header)) for column in self.columns]
        before, after = self._link
        for horn in self.data:
            link = format_html('<a href="{}{}{}">{}</a>', before, horn.pk, after, horn.number)
            yield Row([(number[1], link), *[(heading, CELLS[name](horn)) for name, heading in others]])
