"""The list of pupils, with the horns they have."""

from __future__ import annotations

from datetime import date
from functools import partial
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.badges import drawn, overdue
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import OnePage, one_page
from fleet.ground.tables import Computed, RowsInPages, Tick, address_of
from fleet.ground.wording import short_day
from fleet.people.models import Pupil, PupilQuerySet
from fleet.people.pages.pupil_table import PupilTable


class PupilsAndHorns(PupilTable):
    """The pupils found, each as one of `shown`, with `has_now`: their open loans with the horns."""

    ticks = "pupil"

    tick = Tick()
    horn = Computed(_s_lazy("Horn"), orderable=False)

    class Meta(PupilTable.Meta):
        sequence = ("tick", "name", "horn", "...")

    def __init__(self, found: PupilQuerySet, shown: PupilQuerySet, *, school: str, today: date) -> None:
        self.today, self._horn = today, address_of("desk:horn", school)
        self._until = _s("until %(day)s")
        super().__init__(
            RowsInPages(partial(self._page_of, found, shown), usual="name"), school=school, order_by="name"
        )

    @classmethod
    def _page_of(cls, found: PupilQuerySet, shown: PupilQuerySet, *, sort: str, number: int) -> OnePage[Pupil]:
        return one_page(found, shown, order=cls.in_order(sort), number=number)

    def render_horn(self, record: Any) -> SafeString:
        has = [
            drawn(
                '<a href="{}">{}</a> <span class="quiet">{}</span> {}',
                self._horn(loan.horn_id),
                loan.horn,
                self._until % {"day": short_day(loan.due_on, self.today)},
                overdue(loan.due(self.today)),
            )
            for loan in record.has_now
        ]
        return SafeString(", ".join(has)) or drawn('<span class="quiet usual">{}</span>', _s("none"))
