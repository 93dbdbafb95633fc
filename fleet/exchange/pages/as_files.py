"""Rows as a file to take away: .xlsx or .csv, streamed, with everything a spreadsheet would run made harmless."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from django.http import Http404, StreamingHttpResponse
from django.http.response import HttpResponseBase

from fleet.exchange.pages.spreadsheet import xlsx
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
        cells = ([column.of(row) for column in columns] for row in rows)
        head = [column.heading for column in columns]
        answer = StreamingHttpResponse(xlsx(title.capitalize(), head, cells), content_type=XLSX)
    elif kind == "csv":
        answer = StreamingHttpResponse(_csv_lines(columns, rows), content_type="text/csv; charset=utf-8")
    else:
        raise Http404("Ask for xlsx or csv.")
    answer.headers["Content-Disposition"] = attachment(f"{file}.{kind}")
    return answer


def _csv_lines(columns: list[Out], rows: Iterable[Any]) -> Iterator[str]:
    """RFC 4180, with the mark that tells spreadsheet programs it is UTF-8."""
    writer: Any = csv.writer(Echo())
    yield "\ufeff" + writer.writerow([safe(column.heading) for column in columns])
    for row in rows:
        yield writer.writerow([safe(as_text(column.of(row))) for column in columns])


def attachment(file: str) -> str:
    return f"attachment; filename*=UTF-8''{quote(file)}"
