"""The rows of a list on its way in as tables, a table a verdict."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.text import Truncator

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.tables import Computed, ListTable


class VerdictTable(ListTable):
    """Rows of one verdict. `of` says of how many rows of the list; a row may stand there with several columns."""

    line = tables.Column(_s_lazy("Row"))

    def __init__(self, lines: list[dict[str, Any]], *, of: int) -> None:
        super().__init__(lines)
        self.of = of


class RefusedRows(VerdictTable):
    """`line`, `column`, `value`, `sentence`."""

    column = tables.Column(_s_lazy("Column"), default="")
    value = tables.Column(_s_lazy("It says"), default="")
    sentence = tables.Column(_s_lazy("Why not"), default="")

    class Meta:
        orderable = False

    def render_value(self, value: Any) -> str:
        return Truncator(value).chars(60)


class LeftEmpty(RefusedRows):
    sentence = tables.Column(_s_lazy("Why"), default="")

    class Meta:
        orderable = False


class ChangedRows(VerdictTable):
    """`line`, `label`, `before`, `after`; `first`, the row's first cell, where a row begins."""

    line = Computed(_s_lazy("Row"))
    label = tables.Column(_s_lazy("Column"))
    before = tables.Column(_s_lazy("On record"), default="–")
    after = Computed(_s_lazy("Would be"))

    class Meta:
        orderable = False

    def render_line(self, record: dict[str, Any]) -> str | SafeString:
        if "first" not in record:
            return str(record["line"])
        return format_html('{} <span class="quiet">{}</span>', record["line"], record["first"])

    def render_before(self, value: Any) -> str:
        return Truncator(value).chars(80)

    def render_after(self, record: dict[str, Any]) -> SafeString:
        return format_html('<ins class="differs">{}</ins>', Truncator(record["after"]).chars(120))


class NewRows(VerdictTable):
    """`line` and `said`, pairs of label and value."""

    said = Computed(_s_lazy("What it says"))

    class Meta:
        orderable = False

    def render_said(self, record: dict[str, Any]) -> SafeString:
        return format_html_join(
            " · ",
            '<span class="quiet">{}</span> {}',
            ((label, Truncator(value).chars(140)) for label, value in record["said"]),
        )
