"""The list of horns as a table. The rows come in order already; the table draws them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django_tables2.data import TableListData

from fleet.people.models import School
from fleet.register.kinds import stand_in_words
from fleet.register.models import Horn
from fleet.templatetags.fleet_tags import badge, grade_badge, where_badge


class InOrder(TableListData):
    """Rows that the database has put in order."""

    def order_by(self, aliases: Any) -> None:
        pass


def _day(day: date) -> str:
    """A day that stays on one line."""
    return date_format(day, "j M Y").replace(" ", "\u00a0")


class HornTable(tables.Table):
    number = tables.Column("Number")
    build = tables.Column("What it is", empty_values=(None,))
    stands_in = tables.Column("Stands in")
    where = tables.Column("Where it is")
    holder = tables.Column("Who has it", accessor="holder_name")
    due = tables.Column("Due", accessor="due_on")
    place = tables.Column("Place", orderable=False)
    grade = tables.Column("Plays")
    checked = tables.Column("Checked", accessor="checked_on")

    class Meta:
        default = ""

    def __init__(self, rows: Sequence[Horn], *, school: School, sort: str) -> None:
        self.school = school
        super().__init__(InOrder(list(rows)), order_by=sort)

    def render_number(self, record: Horn) -> str:
        return format_html('<a href="{}">{}</a>', reverse("desk:horn", args=(self.school.slug, record.pk)), record)

    def render_build(self, record: Horn) -> str:
        if record.build:
            return record.kind
        return badge("care", "?", "not identified")

    def render_stands_in(self, value: str) -> str:
        return stand_in_words(value)

    def render_where(self, value: str) -> str:
        return where_badge(value)

    def render_due(self, value: date) -> str:
        return _day(value)

    def render_grade(self, record: Horn) -> str:
        return grade_badge(record.grade)

    def render_checked(self, value: date) -> str:
        return _day(value)
