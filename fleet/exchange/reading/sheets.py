"""Rows of the first sheet with anything in it, read as a stream, nothing computed.

.xlsx is ISO/IEC 29500, .ods ISO/IEC 26300.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from typing import Any

from defusedxml.ElementTree import iterparse
from openpyxl.reader.excel import ExcelReader
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from fleet.exchange.reading.bounds import MOST_COLUMNS, MOST_ROWS, Notes, SheetLine, readable
from fleet.exchange.reading.cells import as_text, tidy

# A formula whose last value was not saved with it: programs write one, scripts often do not.
_FORMULA = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"[^>]*>\s*<f[ />][^<]*(?:</f>)?')
_MOST_FORMULAS = 50_000


class _Sheet(ReadOnlyWorksheet):
    """A sheet whose size is not asked for: files that do not state it would be read a first time to the end."""

    def _get_size(self) -> None:
        pass


class _Reader(ExcelReader):
    def read_worksheets(self) -> None:
        for sheet, rel in self.parser.find_sheets():
            if rel.target in self.valid_files and "chartsheet" not in rel.Type:
                one = _Sheet(self.wb, sheet.name, rel.target, self.shared_strings)
                one.sheet_state = sheet.state
                self.wb._sheets.append(one)


def xlsx_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[SheetLine]:
    with readable():
        archive.fp.seek(0)  # type: ignore[union-attr]
        reader = _Reader(archive.fp, read_only=True, data_only=True, keep_links=False)
        reader.read()
        sheets: list[Any] = [sheet for sheet in reader.wb.worksheets if sheet.sheet_state == "visible"]
        sheet = next((one for one in sheets if _has_rows(one)), None)
    if sheet is None:
        return
    if len(sheets) > 1:
        notes.sentences.append(f"The file has {len(sheets)} sheets; “{sheet.title}” was read.")
    with readable():
        formulas = _formulas(archive, sheet._worksheet_path)
    if formulas:
        notes.sentences.append(
            f"{len(formulas)} cell{'s hold formulas' if len(formulas) > 1 else ' holds a formula'}. None was run: "
            "the value the file was saved with is taken."
        )
    sheet.reset_dimensions()
    rows = iter(sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True))
    number = 0
    while True:
        with readable():
            row = next(rows, None)
        if row is None:
            return
        number += 1
        cells = ["" if value is None else as_text(value) for value in row]
        if formulas:
            for place, cell in enumerate(cells):
                if not cell and (number, place) in formulas:
                    cells[place] = "="
        yield number, cells


def _has_rows(sheet: Any) -> bool:
    sheet.reset_dimensions()
    return any(any(cell is not None for cell in row) for row in sheet.iter_rows(max_row=200, values_only=True))


def _formulas(archive: zipfile.ZipFile, path: str) -> set[tuple[int, int]]:
    """(row from 1, column from 0) of the sheet's formulas, found in its text without computing anything."""
    found: set[tuple[int, int]] = set()
    with archive.open(path.lstrip("/")) as part:
        rest = b""
        while chunk := part.read(1 << 20):
            text = rest + chunk
            if b"<f" in text:
                found.update((int(match[2]), _column(match[1])) for match in _FORMULA.finditer(text))
            if len(found) > _MOST_FORMULAS:
                break
            # A cell that the chunk cuts in two begins again in the next.
            rest = text[text.rfind(b"<c ") :][-20_000:] if b"<c " in text else b""
    return found


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1


_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
ROW, CELL, COVERED = f"{_TABLE}table-row", f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"


def ods_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[SheetLine]:
    number, formulas, found = 0, 0, False
    with readable():
        part = archive.open("content.xml")
        events = iter(iterparse(part, events=("end",)))
    while True:
        with readable():
            _, element = next(events, (None, None))
            if element is None:
                break
            if element.tag == f"{_TABLE}table" and found:
                break
            if element.tag != ROW:
                continue
            cells, computed = _cells(element)
            times = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
            element.clear()
        formulas += computed
        if any(cells):
            found = True
            # Equal rows are written once with a count; a sheet filled to its end must not fill the memory.
            for turn in range(min(times, MOST_ROWS + 1)):
                yield number + turn + 1, list(cells)
        number += times
    if formulas:
        notes.sentences.append(
            f"{formulas} cell{'s hold formulas' if formulas > 1 else ' holds a formula'}. None was run: "
            "the value the file was saved with is taken."
        )


def _cells(row: Any) -> tuple[list[str], int]:
    cells: list[str] = []
    computed = 0
    for cell in row:
        if cell.tag not in (CELL, COVERED):
            continue
        text = _text(cell)
        if cell.get(f"{_TABLE}formula"):
            computed += 1
            text = text or "="
        room = MOST_COLUMNS + 1 - len(cells)
        cells += [text] * min(int(cell.get(f"{_TABLE}number-columns-repeated", "1")), room)
        if room <= 0:
            break
    return cells, computed


def _text(cell: Any) -> str:
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind == "date":
        return str(cell.get(f"{_OFFICE}date-value", ""))[:10]
    if kind in {"float", "currency", "percentage"}:
        value = str(cell.get(f"{_OFFICE}value", ""))
        return value[:-2] if value.endswith(".0") else value
    if kind == "boolean":
        return "yes" if cell.get(f"{_OFFICE}boolean-value") == "true" else "no"
    return tidy("\n".join("".join(_words(p)) for p in cell.findall(f"{_TEXT}p")))


def _words(paragraph: Any) -> Iterator[str]:
    """The paragraph's letters; blanks in a row, tabs and line ends are elements of their own."""
    if paragraph.text:
        yield paragraph.text
    for part in paragraph:
        if part.tag == f"{_TEXT}s":
            yield " " * min(int(part.get(f"{_TEXT}c", "1")), 200)
        elif part.tag == f"{_TEXT}tab":
            yield "\t"
        elif part.tag == f"{_TEXT}line-break":
            yield "\n"
        else:
            yield from _words(part)
        if part.tail:
            yield part.tail
