"""The stock of parts as a table."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.html import format_html
from django_tables2 import Column

from fleet.ground.badges import money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ComputedFigureColumn, FigureColumn, ListTable
from fleet.people.queries.seats import Seat
from fleet.workshop.models import Part


class PartTable(ListTable):
    around = {"class": "table-wrap rows"}

    part = Computed(_s_lazy("Part"))
    shelf = Column(_s_lazy("Lies"), default="")
    supplier = Column(_s_lazy("Supplier"), default="")
    order_number = Column(_s_lazy("Their number"), default="")
    on_hand = FigureColumn(_s_lazy("There"))
    minimum = FigureColumn(_s_lazy("At least"))
    cost = ComputedFigureColumn(_s_lazy("Cost of one"))

    class Meta:
        orderable = False
        per_page = 25

    def __init__(self, parts: Iterable[Part], *, seat: Seat) -> None:
        self.seat = seat
        self.may_change = seat.may("workshop:part-edit", write=True)
        super().__init__(list(parts))

    def render_part(self, record: Part) -> str:
        if not self.may_change:
            return str(record)
        return format_html('<a href="{}">{}</a>', self.seat.here("workshop:part-edit", record.pk), record)

    def render_cost(self, record: Part) -> str:
        return money(record.cost, self.seat.school.currency)
