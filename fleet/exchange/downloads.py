"""The lists of horns, pupils and loans as files: as the list is narrowed, with formulas made harmless."""

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
from django.utils import timezone

from fleet.access import HEADS, SeatedRequest
from fleet.exchange.cells import as_text, safe
from fleet.loans.listing import LoanFilters, sort_of
from fleet.loans.listing import in_order as loans_in_order
from fleet.loans.models import Loan
from fleet.people.models import Guardian, Pupil
from fleet.people.openings import note
from fleet.people.tables import PupilTable
from fleet.register.filters import HornFilters
from fleet.register.kinds import stand_in_words
from fleet.register.listing import in_order
from fleet.register.models import Horn

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CHUNK = 500
_WHERE = dict(Horn.Where.choices)


@dataclass(frozen=True, slots=True)
class Out:
    """A heading and what stands under it; days and amounts keep their kind, so that a spreadsheet can reckon."""

    heading: str
    of: Callable[[Any], str | date | Decimal | int | None]


class Echo:
    """A file that hands back what is written to it, so that csv can feed a response row by row."""

    def write(self, text: str) -> str:
        return text


# The headings are those an import of the same kind knows, so that a list that went out comes back in.
HORNS = (
    Out("Register number", lambda horn: horn.number),
    Out("What it is", lambda horn: horn.kind or horn.described_as),
    Out("Identified", lambda horn: "yes" if horn.build else "no"),
    Out("Stands in", lambda horn: stand_in_words(horn.stands_in)),
    Out("Maker", lambda horn: horn.maker),
    Out("Model", lambda horn: horn.model),
    Out("Serial number", lambda horn: horn.serial_number),
    Out("Finish", lambda horn: horn.get_finish_display()),
    Out("Bell", lambda horn: horn.get_bell_display()),
    Out("Wrap", lambda horn: horn.get_wrap_display()),
    Out("Room", lambda horn: horn.place.room if horn.place else ""),
    Out("Shelf", lambda horn: horn.place.shelf if horn.place else ""),
    Out("Where it is", lambda horn: _WHERE[horn.where]),
    Out("Who has it", lambda horn: horn.holder_name),
    Out("Due back", lambda horn: horn.due_on),
    Out("Plays", lambda horn: horn.get_grade_display() if horn.grade else ""),
    Out("Checked on", lambda horn: horn.checked_on),
    Out("Acquired on", lambda horn: horn.acquired_on),
    Out("Notes", lambda horn: horn.notes),
)
MONEY = (Out("Price paid", lambda horn: horn.price), Out("Value today", lambda horn: horn.value))


def _adult(place: int, part: Callable[[Guardian], str]) -> Callable[[Pupil], str]:
    def of(pupil: Pupil) -> str:
        adults = sorted(pupil.guardians.all(), key=lambda one: (one.name, one.pk))
        return part(adults[place]) if place < len(adults) else ""

    return of


PUPILS = (
    Out("Name", lambda pupil: pupil.name),
    Out("Year", lambda pupil: pupil.year),
    Out("Class or ensemble", lambda pupil: pupil.group),
    Out("Pupil id", lambda pupil: pupil.pupil_id),
    Out("Guardian", _adult(0, lambda one: one.name)),
    Out("Guardian’s e-mail", _adult(0, lambda one: one.email)),
    Out("Guardian’s telephone", _adult(0, lambda one: one.telephone)),
    Out("Second guardian", _adult(1, lambda one: one.name)),
    Out("Second guardian’s e-mail", _adult(1, lambda one: one.email)),
    Out("Second guardian’s telephone", _adult(1, lambda one: one.telephone)),
)
LOANS = (
    Out("Register number", lambda loan: loan.horn.number),
    Out("What it is", lambda loan: loan.horn.kind),
    Out("Pupil", lambda loan: loan.pupil.name),
    Out("Year", lambda loan: loan.pupil.year),
    Out("Class or ensemble", lambda loan: loan.pupil.group),
    Out("Guardian", lambda loan: loan.guardian.name if loan.guardian else ""),
    Out("Out since", lambda loan: loan.issued_on),
    Out("Due back", lambda loan: loan.due_on),
    Out("Came back", lambda loan: loan.returned_on),
)


def horns_out(request: SeatedRequest) -> HttpResponseBase:
    """What the list of horns shows; with prices only for heads, and only when they ask (`money=yes`)."""
    filters = HornFilters(request.GET, queryset=Horn.objects.at(request.seat.school))
    horns = filters.qs.matching(filters.words, walk=True).select_related("place")
    horns = horns.order_by(*in_order(request.GET.get("sort", "")))
    money = request.seat.role in HEADS and request.GET.get("money") == "yes"
    return _answer(request, "horns", (*HORNS, *MONEY) if money else HORNS, horns)


def pupils_out(request: SeatedRequest) -> HttpResponseBase:
    words = request.GET.get("q", "")[:80].replace("\0", "")
    found = Pupil.objects.at(request.seat.school).filter(left_on=None).matching(words)
    note(request)
    order = PupilTable.in_order(request.GET.get("sort", ""))
    return _answer(request, "pupils", PUPILS, found.prefetch_related("guardians").order_by(*order))


def loans_out(request: SeatedRequest) -> HttpResponseBase:
    school, asked = request.seat.school, request.GET.copy()
    asked.setdefault("state", "open")
    today = timezone.localdate(request.now)
    found = LoanFilters(asked, queryset=Loan.objects.at(school), school=school, today=today).qs
    note(request)
    order = loans_in_order(sort_of(str(asked.get("sort", "")), state=str(asked["state"])))
    rows = found.select_related("horn", "pupil", "guardian").order_by(*order)
    return _answer(request, "loans", LOANS, rows)


def _answer(request: SeatedRequest, name: str, columns: Iterable[Out], rows: Any) -> HttpResponseBase:
    day = timezone.localdate(request.now)
    file = f"{name}-{request.seat.school.slug}-{day:%Y-%m-%d}"
    return as_file(request.GET.get("as", "xlsx"), file, name, columns, rows.iterator(chunk_size=CHUNK))


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
