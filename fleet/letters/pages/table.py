"""The log of letters as a table."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.text import capfirst

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable
from fleet.ground.wording import short_day
from fleet.letters.models import Letter
from fleet.people.models import School


class LetterTable(ListTable):
    around = {"class": "table-wrap rows letters"}

    letter = Computed(_s_lazy("Letter"))
    horn = Computed(_s_lazy("Horn"))
    guardian = Computed(_s_lazy("To"))
    sent_at = Computed(_s_lazy("When"))
    state = Computed(_s_lazy("What became of it"))

    class Meta:
        orderable = False
        per_page = 25
        empty_text = _s_lazy(
            "No letters here yet. They go out 14 and 3 days before a horn is due, unless the school sets other days."
        )

    def __init__(self, letters: Any, *, school: School, today: date) -> None:
        self.school, self.today = school, today
        super().__init__(letters)

    def render_letter(self, record: Letter) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>',
            reverse("loans:letter", args=(self.school.slug, record.pk)),
            capfirst(str(record)),
        )

    def render_horn(self, record: Letter) -> SafeString:
        page, key = ("loans:loan", record.loan_id) if record.loan_id else ("desk:horn", record.about.horn_id)
        return format_html(
            '<a href="{}">{}</a> <bdi class="quiet">{}</bdi>',
            reverse(page, args=(self.school.slug, key)),
            record.about.horn,
            record.about.pupil,
        )

    def render_guardian(self, record: Letter) -> SafeString:
        return format_html('<bdi>{}</bdi> <span class="quiet">{}</span>', record.guardian, record.address)

    def render_sent_at(self, record: Letter) -> str:
        return f"{short_day(record.on.date(), self.today)}, {date_format(record.on, 'H:i')}"

    def render_state(self, record: Letter) -> str | SafeString:
        state = record.get_state_display()
        return format_html('{} <span class="quiet">{}</span>', state, record.why) if record.trouble else state
