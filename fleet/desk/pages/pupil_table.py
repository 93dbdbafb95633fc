"""The list of pupils, with the horns they have."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.badges import drawn, overdue
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, Tick, address_of
from fleet.ground.wording import short_day
from fleet.people.pages.pupil_table import PupilTable


class PupilsAndHorns(PupilTable):
    """Pupils with `has_now`, their open loans with the horns."""

    ticks = "pupil"

    tick = Tick()
    horn = Computed(_s_lazy("Horn"), orderable=False)

    class Meta(PupilTable.Meta):
        sequence = ("tick", "name", "horn", "...")

    def __init__(self, *args: object, school: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, school=school, **kwargs)
        self.today, self._horn = today, address_of("desk:horn", school)

    def render_horn(self, record: Any) -> SafeString:
        has = [
            drawn(
                '<a href="{}">{}</a> <span class="quiet">{}</span> {}',
                self._horn(loan.horn_id),
                loan.horn,
                _s("until %(day)s") % {"day": short_day(loan.due_on, self.today)},
                overdue(loan.due(self.today)),
            )
            for loan in record.has_now
        ]
        return SafeString(", ".join(has)) or drawn('<span class="quiet usual">{}</span>', _s("none"))
