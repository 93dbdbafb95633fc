"""Rows as an .xlsx file, ISO/IEC 29500, written while they are read: its first bytes go out before the first row.

One sheet, its head bold and held in place. Text is made harmless; days and amounts are numbers a program reckons with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from html import escape
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from fleet.exchange.reading.cells import EXCEL_BEGINS, safe

HEAD, DAY = 1, 2  # places in STYLES' cellXfs
# A program takes 1900 for a leap year: what is earlier stands as text.
FIRST_DAY = date(1900, 3, 1)
LONGEST = 32_767  # characters a cell holds
NOT_XML = re.compile("[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
ROWS_AT_ONCE = 200

XML = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
CONTENTS = (
    f'<Types xmlns="{PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{KIND}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{KIND}.worksheet+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{KIND}.styles+xml"/></Types>'
)
STYLES = (
    f'<styleSheet xmlns="{MAIN}"><numFmts count="1"><numFmt numFmtId="164" formatCode="yyyy\\-mm\\-dd"/></numFmts>'
    '<fonts count="2"><font><sz val="11"/><name val="Calibri"/></font>'
    '<font><b/><sz val="11"/><name val="Calibri"/></font></fonts>'
    '<fills count="2"><fill><patternFill/></fill><fill><patternFill patternType="gray125"/></fill></fills>'
    "<borders><border><left/><right/><top/><bottom/><diagonal/></border></borders>"
    '<cellStyleXfs><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>'
    '<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)
SHEET_BEGINS = (
    f'<worksheet xmlns="{MAIN}"><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" '
    'activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><sheetData>'
)


class Sent:
    """A file that is only written to; what was written is taken away piece by piece."""

    def __init__(self) -> None:
        self.pieces: list[bytes] = []

    def write(self, data: bytes) -> int:
        self.pieces.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing is held back."""

    close = flush

    def taken(self) -> bytes:
        data = b"".join(self.pieces)
        self.pieces.clear()
        return data


def xlsx(title: str, head: list[str], rows: Iterable[list[str | date | Decimal | int | None]]) -> Iterator[bytes]:
    """The file, piece by piece."""
    letters = [_letters(place) for place in range(len(head))]
    sent = Sent()
    with ZipFile(sent, "w", ZIP_DEFLATED, compresslevel=4) as book:
        for name, text in _parts(title).items():
            with book.open(name, "w") as part:
                part.write((XML + text).encode())
        yield sent.taken()
        with book.open("xl/worksheets/sheet1.xml", "w") as sheet:
            held = [XML, SHEET_BEGINS, _row(1, letters, head, HEAD)]
            for number, row in enumerate(rows, 2):
                held.append(_row(number, letters, row))
                if not number % ROWS_AT_ONCE:
                    sheet.write("".join(held).encode())
                    held.clear()
                    if data := sent.taken():
                        yield data
            sheet.write(("".join(held) + "</sheetData></worksheet>").encode())
    yield sent.taken()


def _parts(title: str) -> dict[str, str]:
    """All but the sheet itself."""
    # A sheet's name has at most 31 characters and none of these.
    name = escape(re.sub(r"[\[\]:*?/\\]", " ", title)[:31])
    return {
        "[Content_Types].xml": CONTENTS,
        "_rels/.rels": _links(f'Id="rId1" Type="{LINKS}/officeDocument" Target="xl/workbook.xml"'),
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{LINKS}">'
        f'<sheets><sheet name="{name}" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": _links(
            f'Id="rId1" Type="{LINKS}/worksheet" Target="worksheets/sheet1.xml"',
            f'Id="rId2" Type="{LINKS}/styles" Target="styles.xml"',
        ),
        "xl/styles.xml": STYLES,
    }


def _links(*links: str) -> str:
    inside = "".join(f"<Relationship {link}/>" for link in links)
    return f'<Relationships xmlns="{PACKAGE}/relationships">{inside}</Relationships>'


def _row(number: int, letters: list[str], values: list[Any], style: int = 0) -> str:
    cells = [
        _cell(f"{letter}{number}", value, style)
        for letter, value in zip(letters, values, strict=True)
        if value is not None and value != ""
    ]
    return f'<row r="{number}">{"".join(cells)}</row>'


def _cell(at: str, value: Any, style: int) -> str:
    if isinstance(value, int | Decimal):
        return f'<c r="{at}"><v>{value}</v></c>'
    if isinstance(value, date):
        if value >= FIRST_DAY:
            return f'<c r="{at}" s="{DAY}"><v>{(value - EXCEL_BEGINS).days}</v></c>'
        value = value.isoformat()
    text = escape(safe(NOT_XML.sub("", value))[:LONGEST], quote=False)
    return f'<c r="{at}" s="{style}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'


def _letters(place: int) -> str:
    """The name of a column: A to Z, AA and on."""
    more, last = divmod(place, 26)
    return (_letters(more - 1) if more else "") + chr(ord("A") + last)
