"""Rows as a file to take away: .xlsx or .csv, streamed, with everything a spreadsheet would run made harmless."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from django.http import FileResponse, Http404, StreamingHttpResponse
from django.http.response import HttpResponseBase

from fleet.exchange.reading.cells import as_text, safe

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class Out:
    """A heading and what stands under it; days and amounts keep their kind, so that a spreadsheet can reckon."""

    heading: str
    of: Callable[[Any], str | date | Decimal | int | None]


class Echo:
    """A file that hands back what is written to it, so that csv can feed a response row by row."""

    def write(self, text: str) -> str:
        return text


def as_file(kind: str, file: str, title: str, columns: Iterable[Out], rows: Iterable[Any]) -> HttpResponseBase:
    """The rows as a spreadsheet (`xlsx`) or as text (`csv`), as `kind` says; anything else is a 404.

    `file` is the name without its ending.
    """
    columns = list(columns)
    if kind == "xlsx":
        return _as_xlsx(f"{file}.xlsx", title.capitalize(), columns, rows)
    if kind != "csv":
        raise Http404("Ask for xlsx or csv.")
    answer = StreamingHttpResponse(_csv_lines(columns, rows), content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = attachment(f"{file}.csv")
    return answer


def _csv_lines(columns: list[Out], rows: Iterable[Any]) -> Iterator[str]:
    """RFC 4180, with the mark that tells spreadsheet programs it is UTF-8."""
    writer: Any = csv.writer(Echo())
    yield "\ufeff" + writer.writerow([safe(column.heading) for column in columns])
    for row in rows:
        yield writer.writerow([safe(as_text(column.of(row))) for column in columns])


def _as_xlsx(file: str, title: str, columns: list[Out], rows: Iterable[Any]) -> HttpResponseBase:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    head = []
    for column in columns:
        cell = WriteOnlyCell(sheet, value=_in_sheet(column.heading))
        cell.font = Font(bold=True)
        head.append(cell)
    sheet.append(head)
    for row in rows:
        sheet.append([_in_sheet(column.of(row)) for column in columns])
    # Memory up to a size, a file beyond it; it is gone with the answer.
    out = tempfile.SpooledTemporaryFile(max_size=2 * 1024 * 1024)  # noqa: SIM115
    book.save(out)
    out.seek(0)
    answer = FileResponse(out, content_type=XLSX)
    answer.headers["Content-Disposition"] = attachment(file)
    return answer


def _in_sheet(value: Any) -> Any:
    """Text made safe, without the control characters XML has no place for; days and amounts as they are."""
    if not isinstance(value, str):
        return value
    return safe("".join(c for c in value if c >= " " or c in "\t\n")) or None


def attachment(file: str) -> str:
    return f"attachment; filename*=UTF-8''{quote(file)}"
