"""The list of pupils, with the horns they have."""

from __future__ import annotations

from datetime import date
from functools import cache, partial
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.desk.queries.pupils import listed
from fleet.ground.badges import drawn, overdue
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import OnePage, one_page
from fleet.ground.tables import Computed, RowsInPages, Tick, address_of
from fleet.ground.wording import short_day
from fleet.people.models import Pupil, School
from fleet.people.pages.pupil_table import PupilTable


class PupilsAndHorns(PupilTable):
    """The pupils found, with what they have."""

    ticks = "pupil"

    tick = Tick()
    horn = Computed(_s_lazy("Horn"), orderable=False)

    class Meta(PupilTable.Meta):
        sequence = ("tick", "name", "horn", "...")

    def __init__(self, school: School, words: str, *, today: date) -> None:
        self.today, self._horn = today, address_of("desk:horn", school.slug)
        self._until, self._short = _s("until %(day)s"), cache(short_day)
        rows = RowsInPages(partial(self._page_of, school, words), usual="name")
        super().__init__(rows, school=school.slug, order_by="name")

    @classmethod
    def _page_of(cls, school: School, words: str, *, sort: str, number: int) -> OnePage[Pupil]:
        return one_page(
            lambda: Pupil.objects.listed(school, words),
            listed,
            order=cls.in_order(sort),
            number=number,
            like=None if words else ("pupils", school.pk, sort),
            # The index of classes leaves out who has left, as the list does.
            counted_as=None if words else lambda: Pupil.objects.listed(school, "").order_by("group"),
        )

    def render_horn(self, record: Any) -> SafeString:
        has = [
            drawn(
                '<a href="{}">{}</a> <span class="quiet">{}</span> {}',
                self._horn(loan.horn_id),
                loan.horn,
                self._until % {"day": self._short(loan.due_on, self.today)},
                overdue(loan.due(self.today)),
            )
            for loan in record.has_now
        ]
        return SafeString(", ".join(has)) or drawn('<span class="quiet usual">{}</span>', _s("none"))
