"""Rows of the first sheet with anything in it of an .xlsx file (ISO/IEC 29500), read as a stream, nothing computed."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from typing import Any

from fleet.exchange.cells import as_text
from fleet.exchange.reading import MOST_COLUMNS, Line, Notes, readable

# A formula whose last value was not saved with it: programs write one, scripts often do not.
_FORMULA = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"[^>]*>\s*<f[ />][^<]*(?:</f>)?')
_MOST_FORMULAS = 50_000


def xlsx_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[Line]:
    from openpyxl import load_workbook

    with readable():
        archive.fp.seek(0)  # type: ignore[union-attr]
        book = load_workbook(archive.fp, read_only=True, data_only=True, keep_links=False)
        sheets: list[Any] = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
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
