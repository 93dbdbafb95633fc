"""Rows of the first sheet with anything in it of an .ods file (ISO/IEC 26300), read as a stream, nothing computed."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from typing import Any

from defusedxml.ElementTree import iterparse

from fleet.exchange.cells import tidy
from fleet.exchange.reading import MOST_COLUMNS, MOST_ROWS, Line, Notes, readable

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
ROW, CELL, COVERED = f"{_TABLE}table-row", f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"


def ods_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[Line]:
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
