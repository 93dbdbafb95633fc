"""Rows of the first sheet with anything in it, by python-calamine; nothing is computed.

.xlsx is ISO/IEC 29500, .ods ISO/IEC 26300, .xls [MS-XLS] in [MS-CFB]. The library gets a file made anew of nothing
but the parts that were looked at, so that what it opens is what was found to be bounded.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections.abc import Iterator, Mapping
from typing import Any

from defusedxml.ElementTree import fromstring
from python_calamine import CalamineSheet, CalamineWorkbook, PasswordError, SheetTypeEnum, SheetVisibleEnum

from fleet.exchange.reading.bounds import LOCKED, MOST_COLUMNS, Notes, SheetLine, readable
from fleet.exchange.reading.cells import as_text
from fleet.exchange.reading.looks import SheetLook, lengths_of_strings, look_at_ods, look_at_xlsx
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused

_WORKBOOK, _RELATIONS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
_PACKAGE = (
    b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r" '
    b'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" '
    b'Target="xl/workbook.xml"/></Relationships>'
)
_MANIFEST = b'<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'


def xlsx_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[SheetLine]:
    with readable():
        parts = {"_rels/.rels": _PACKAGE, _WORKBOOK: archive.read(_WORKBOOK), _RELATIONS: archive.read(_RELATIONS)}
        related = {one.get("Id"): one for one in fromstring(parts[_RELATIONS])}
        strings: list[int] = []
        for relation in related.values():
            if _path(relation) in archive.namelist() and _kind(relation) in {"sharedStrings", "styles"}:
                parts[_path(relation)] = archive.read(_path(relation))
                if _kind(relation) == "sharedStrings":
                    strings = lengths_of_strings(parts[_path(relation)])
        sheets = _visible_sheets(parts[_WORKBOOK], related)
        looks = ((title, path, look_at_xlsx(archive.read(path), strings)) for title, path in sheets.items())
        title, path, look = next((one for one in looks if one[2].has_rows), ("", "", SheetLook()))
        if not title:
            return
        parts[path] = archive.read(path)
        sheet = CalamineWorkbook.from_filelike(_archive_of(parts)).get_sheet_by_name(title)
    yield from _lines(sheet, len(sheets), look, notes)


def _kind(relation: Any) -> str:
    return str(relation.get("Type", "")).rpartition("/")[2]


def _path(relation: Any) -> str:
    return posixpath.join("/xl", relation.get("Target", "")).lstrip("/")


def _visible_sheets(workbook: bytes, related: Mapping[str, Any]) -> dict[str, str]:
    """Path by title of the worksheets that can be seen, in the file's order."""
    found = {}
    for one in fromstring(workbook).iter():
        if one.tag.endswith("}sheet") and one.get("state", "visible") == "visible":
            relation = related[next(value for key, value in one.items() if key.endswith("}id"))]
            if _kind(relation) == "worksheet":
                found[one.get("name", "")] = _path(relation)
    return found


def ods_lines(archive: zipfile.ZipFile, notes: Notes) -> Iterator[SheetLine]:
    with readable():
        manifest = "META-INF/manifest.xml"
        if manifest in archive.namelist() and b"encryption-data" in archive.read(manifest):
            raise Refused(LOCKED)
        content = archive.read("content.xml")
        looks = look_at_ods(content)
        book = CalamineWorkbook.from_filelike(
            _archive_of(
                {
                    "mimetype": archive.read("mimetype"),
                    "content.xml": content,
                    manifest: _MANIFEST,
                }
            )
        )
        titles = _visible(book)
        title = next((one for one in titles if looks[one].has_rows), None)
        if title is None:
            return
        sheet = book.get_sheet_by_name(title)
    yield from _lines(sheet, len(titles), looks[title], notes)


def xls_lines(data: bytes, notes: Notes) -> Iterator[SheetLine]:
    with readable():
        try:
            book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        except PasswordError as locked:
            raise Refused(LOCKED) from locked
        titles = _visible(book)
        sheet = next((one for title in titles if _any(one := book.get_sheet_by_name(title))), None)
    if sheet is None:
        return
    notes.add(
        _s_lazy("In an old .xls file formulas are not told from other cells: the values it was saved with are taken.")
    )
    yield from _lines(sheet, len(titles), SheetLook(), notes)


def _visible(book: CalamineWorkbook) -> list[str]:
    return [
        one.name
        for one in book.sheets_metadata
        if one.visible == SheetVisibleEnum.Visible and one.typ == SheetTypeEnum.WorkSheet
    ]


def _any(sheet: CalamineSheet) -> bool:
    return any(any(cell != "" for cell in row) for row in sheet.iter_rows())


def _archive_of(parts: Mapping[str, bytes]) -> io.BytesIO:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    made.seek(0)
    return made


def _lines(sheet: CalamineSheet, sheets: int, look: SheetLook, notes: Notes) -> Iterator[SheetLine]:
    if sheets > 1:
        notes.add(_s_lazy("The file has %(sheets)s sheets; “%(read)s” was read."), sheets=sheets, read=sheet.name)
    if look.formulas:
        notes.add(
            _s_lazy("Cells with a formula: %(cells)s. None was run: the value the file was saved with is taken."),
            cells=look.formulas,
        )
    rows = sheet.iter_rows()
    number, last = 0, max(look.instead, default=0)
    while True:
        with readable():
            row: list[Any] | None = next(rows, None)
        if row is None and number >= last:
            return
        number += 1
        cells = [as_text(value) for value in row[: MOST_COLUMNS + 1]] if row else []
        for place, words in look.instead.get(number, {}).items():
            cells += [""] * (place + 1 - len(cells))
            cells[place] = cells[place] or words
        yield number, cells
