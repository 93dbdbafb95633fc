from __future__ import annotations

from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.badges import drawn
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable, address_of
from fleet.people.models import Pupil


class PupilTable(ListTable):
    """Pupils with `answered_for_by`, their guardians."""

    around = {"class": "table-wrap rows pupils"}

    name = Computed(_s_lazy("Name used in school"), order_by=("sorted_by", "pk"))
    year = Computed(_s_lazy("Year"), order_by=("year_sorted_by", "sorted_by", "pk"))
    group = Computed(_s_lazy("Class or ensemble"), order_by=("group_sorted_by", "sorted_by", "pk"))
    guardians = Computed(_s_lazy("Guardians"), orderable=False)

    class Meta:
        empty_text = _s_lazy("No pupil matches.")
        per_page = 25

    def __init__(self, *args: object, school: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._pupil, self._guardian = address_of("people:pupil", school), address_of("people:guardian-edit", school)

    @classmethod
    def in_order(cls, said: str) -> list[str]:
        """The order of a sort such as `-year`, as the table sorts by it; by name for anything else."""
        column = cls.base_columns.get(said.removeprefix("-"))
        if column is None or column.orderable is False:
            return list(cls.base_columns["name"].order_by)
        return list(column.order_by.opposite if said.startswith("-") else column.order_by)

    def render_name(self, record: Pupil) -> SafeString:
        return drawn('<a href="{}"><bdi>{}</bdi></a>', self._pupil(record.pk), record.name)

    def render_year(self, record: Pupil) -> str:
        return record.year or "—"

    def render_group(self, record: Pupil) -> str:
        return record.group or "—"

    def render_guardians(self, record: Any) -> SafeString:
        links = [drawn('<a href="{}">{}</a>', self._guardian(one.pk), one.name) for one in record.answered_for_by]
        return SafeString(", ".join(links)) or drawn('<span class="quiet">{}</span>', _s("none yet"))
