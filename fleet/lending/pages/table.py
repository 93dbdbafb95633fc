"""The list of loans as a table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html

from fleet.ground.badges import badge
from fleet.lending.models import Loan
from fleet.people.models import School
from fleet.register.pages.table import InOrder


class LoanTable(tables.Table):
    pupil = tables.Column("Pupil")
    horn = tables.Column("Horn")
    issued_on = tables.Column("Out since")
    due_on = tables.Column("Due back")
    returned_on = tables.Column("Ended")

    class Meta:
        default = "–"

    def __init__(self, rows: Sequence[Loan], *, school: School, today: date, sort: str, **kwargs: Any) -> None:
        self.school, self.today = school, today
        super().__init__(InOrder(list(rows)), order_by=sort, **kwargs)

    def render_pupil(self, record: Loan) -> str:
        address = reverse("loans:loan", args=(self.school.slug, record.pk))
        pupil = record.pupil
        group = ", ".join(filter(None, (pupil.year and f"year {pupil.year}", pupil.group)))
        return format_html('<a href="{}"><bdi>{}</bdi></a> <span class="quiet">{}</span>', address, pupil, group)

    def render_horn(self, record: Loan) -> str:
        address = reverse("desk:horn", args=(self.school.slug, record.horn_id))
        return format_html('<a href="{}">{}</a> <span class="quiet">{}</span>', address, record.horn, record.horn.kind)

    def render_issued_on(self, value: date) -> str:
        return date_format(value)

    def render_due_on(self, record: Loan) -> str:
        over = record.days_over(self.today)
        if not over:
            return date_format(record.due_on)
        days = "1 day" if over == 1 else f"{over} days"
        return format_html("{} {}", date_format(record.due_on), badge("stop", "!", f"{days} overdue"))

    def render_returned_on(self, record: Loan) -> str:
        ended = date_format(record.returned_on or self.today)
        return format_html("{} {}", ended, badge("stop", "!", "lost")) if record.was_lost else ended
