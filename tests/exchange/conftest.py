from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

import pytest

from fleet.exchange.actions import imports
from fleet.exchange.models import Import
from fleet.exchange.reading.told import note_told
from fleet.ground.access import Role
from tests import make
from tests.exchange.sites import FURNISH, Site, own_sites

Rows = Sequence[Sequence[Any]]


def as_csv(rows: Rows, *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue().encode(encoding)


def as_xlsx(rows: Rows, *, merged: str = "", more_sheets: int = 0) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(list(row))
    if merged:
        sheet.merge_cells(merged)
    for _ in range(more_sheets):
        book.create_sheet()
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def as_ods(rows: Rows) -> bytes:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    table = Table(name="List")
    for row in rows:
        drawn = TableRow()
        for value in row:
            if isinstance(value, date):
                cell = TableCell(valuetype="date", datevalue=value.isoformat())
                cell.addElement(P(text=value.strftime("%d.%m.%y")))
            elif isinstance(value, (int, float)):
                cell = TableCell(valuetype="float", value=str(value))
                cell.addElement(P(text=str(value)))
            elif value in (None, ""):
                cell = TableCell()
            else:
                cell = TableCell(valuetype="string")
                cell.addElement(P(text=value))
            drawn.addElement(cell)
        table.addElement(drawn)
    document.spreadsheet.addElement(table)
    out = io.BytesIO()
    document.write(out)
    return out.getvalue()


def as_xls(rows: Rows, *, more_sheets: int = 0) -> bytes:
    from xlwt import Workbook, easyxf

    book = Workbook()
    sheet = book.add_sheet("Sheet")
    day = easyxf(num_format_str="DD.MM.YYYY")
    for y, row in enumerate(rows):
        for x, value in enumerate(row):
            if value not in (None, ""):
                sheet.write(y, x, value, *[day] * isinstance(value, date))
    for n in range(more_sheets):
        book.add_sheet(f"More {n}")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


class Desk:
    """One school with its head, and the steps of an import in one word each."""

    def __init__(self) -> None:
        self.school = make.school(slug="hill-road")
        self.head = make.staff(Role.HEAD, self.school)
        # A second school with the same numbers, so that a leak would show.
        self.other = make.school(slug="vale")
        make.horn(self.other, number="H-1", maker="Vale Workshop")
        make.pupil(self.other, make.guardian(self.other, email="ann@example.org"), name="Ada Quill")

    def take_in(self, data: bytes, kind: str = "horns", name: str = "list.csv") -> Import:
        return imports.take_in(
            school=self.school, kind=kind, file=io.BytesIO(data), name=name, by=self.head, at=make.NOW
        )

    def looked_over(
        self, data: bytes, kind: str = "horns", columns: list[str] | None = None, day_first: bool = True
    ) -> Import:
        imported = self.take_in(data, kind)
        imports.match_columns(imported=imported, columns=columns or imported.columns, day_first=day_first)
        imported.refresh_from_db()
        return self.look_over(imported)

    def look_over(self, imported: Import) -> Import:
        while imports.look_over_next(imported=imported, at=make.NOW):
            pass
        imported.refresh_from_db()
        return imported

    def write(self, imported: Import) -> Import:
        imports.begin_writing(imported=imported)
        while imports.write_next(imported=imported, by=self.head, at=make.NOW):
            pass
        imported.refresh_from_db()
        return imported

    def bring_in(self, data: bytes, kind: str = "horns", **how: Any) -> Import:
        return self.write(self.looked_over(data, kind, **how))


@pytest.fixture
def desk(db: None) -> Desk:
    return Desk()


def verdicts(imported: Import) -> list[str]:
    return [row["verdict"] for batch in imported.batches.all() for row in batch.rows if "verdict" in row]


def wrongs(imported: Import, why: str = "wrong") -> list[tuple[int, str, str, str]]:
    """(row, column, value, sentence) of everything that is wrong, or left empty (`noted`)."""
    return [
        (row["line"], *note_told(*note))
        for batch in imported.batches.all()
        for row in batch.rows
        for note in row.get(why, [])
    ]


Writer = Callable[[Rows], bytes]


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory, django_db_setup: None) -> Iterator[Site]:
    """A site with a database and a data folder of its own, in which something of everything is. Nobody writes in it."""
    with own_sites(tmp_path_factory.mktemp("furnished")) as made:
        site = made()
        site.python(FURNISH)
        yield site


@pytest.fixture(scope="session")
def furnished_rows(furnished: Site) -> Any:
    """All rows of that site, by school, read once: a process of its own is dear."""
    return furnished.rows()
