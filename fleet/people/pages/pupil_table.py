from __future__ import annotations

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable
from fleet.people.models import Pupil


class PupilTable(ListTable):
    around = {"class": "table-wrap rows pupils"}

    name = Computed(order_by=("sorted_by", "pk"))
    year = tables.Column(order_by=("year_sorted_by", "sorted_by", "pk"))
    group = tables.Column(_s_lazy("Class or ensemble"), order_by=("group_sorted_by", "sorted_by", "pk"))
    guardians = Computed(_s_lazy("Guardians"), orderable=False)

    class Meta:
        empty_text = _s_lazy("No pupil matches.")
        per_page = 25

    def __init__(self, *args: object, school: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.school = school

    @classmethod
    def in_order(cls, said: str) -> list[str]:
        """The order of a sort such as `-year`, as the table sorts by it; by name for anything else."""
        column = cls.base_columns.get(said.removeprefix("-"))
        usable = column is not None and column.orderable is not False
        order = column.order_by if usable else cls.base_columns["name"].order_by
        return list(order.opposite if usable and said.startswith("-") else order)

    def render_name(self, record: Pupil) -> SafeString:
        address = reverse("people:pupil", args=(self.school, record.pk))
        return format_html('<a href="{}"><bdi>{}</bdi></a>', address, record.name)

    def render_guardians(self, record: Pupil) -> SafeString:
        return format_html_join(
            ", ",
            '<a href="{}">{}</a>',
            ((reverse("people:guardian-edit", args=(self.school, g.pk)), g.name) for g in record.guardians.all()),
        ) or format_html('<span class="quiet">{}</span>', _s("none yet"))
