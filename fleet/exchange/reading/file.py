"""A file somebody sent, as rows of text: what it really is told by its content, never by its name.

Everything is bounded: the file, what it unpacks to, rows and columns. Nothing in it is run.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from typing import IO

from django.utils.translation import gettext as _s

from fleet.exchange.reading.bounds import (
    A_WEB_PAGE,
    DAMAGED,
    LARGEST_FILE,
    LARGEST_OLD_FILE,
    LOCKED,
    LONGEST_CELL,
    MOST_BLANK_ROWS,
    MOST_COLUMNS,
    MOST_ROWS,
    NO_SPREADSHEET,
    Notes,
    SheetLine,
    looked_over,
    megabytes,
    readable,
    too_long,
)
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused

MACROS = _s_lazy("This file carries macros. Save it as .xlsx, without them, and send that.")


def lines_of(file: IO[bytes], notes: Notes) -> Iterator[SheetLine]:
    """Every row that has something in it, with its number as a spreadsheet counts (from 1), cells as text.

    `file` must be seekable. A cell that is too long keeps one letter more than it may, so that its row is refused.
    Raises Refused with a sentence for what cannot be read or is too large.
    """
    size = file.seek(0, io.SEEK_END)
    if size == 0:
        raise Refused(_s("This file is empty."))
    if size > LARGEST_FILE:
        raise Refused(_s("This file is larger than %(size)s. Cut it into parts.") % {"size": megabytes(LARGEST_FILE)})
    file.seek(0)
    count = last = 0
    for number, cells in _raw(file, notes):
        while cells and not cells[-1]:
            cells.pop()
        if number - last > MOST_BLANK_ROWS:
            if last:
                notes.add(
                    _s_lazy("Below row %(row)s come %(blank)s blank rows; what may follow them was not read."),
                    row=last,
                    blank=MOST_BLANK_ROWS,
                )
            return
        if not cells:
            continue
        count, last = count + 1, number
        if count > MOST_ROWS:
            raise too_long()
        if len(cells) > MOST_COLUMNS:
            raise Refused(
                _s("This sheet has more than %(columns)s columns. Take out what does not belong to the list.")
                % {"columns": MOST_COLUMNS}
            )
        yield number, [cell[: LONGEST_CELL + 1] for cell in cells]


def _raw(file: IO[bytes], notes: Notes) -> Iterator[SheetLine]:
    head = file.read(8)
    file.seek(0)
    if head.startswith(b"PK"):
        return _zipped(file, notes)
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        return _old(file, notes)
    if head.startswith((b"%PDF", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"{\\rtf", b"\x1f\x8b", b"Rar!", b"7z")):
        raise Refused(NO_SPREADSHEET)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        raise Refused(A_WEB_PAGE)
    from fleet.exchange.reading.csv import csv_lines

    return csv_lines(file, notes)


def _zipped(file: IO[bytes], notes: Notes) -> Iterator[SheetLine]:
    from fleet.exchange.reading.sheets import ods_lines, xlsx_lines

    with readable():
        archive = zipfile.ZipFile(file)
        names = looked_over(archive)
    if "xl/workbook.xml" in names:
        if any(name.casefold().endswith("vbaproject.bin") for name in names):
            raise Refused(MACROS)
        return xlsx_lines(archive, notes)
    if "content.xml" in names and "mimetype" in names:
        if b"spreadsheet" not in archive.read("mimetype"):
            raise Refused(NO_SPREADSHEET)
        if any(name.startswith(("Basic/", "Scripts/")) for name in names):
            raise Refused(_s("This file carries macros. Save it again without them and send that."))
        return ods_lines(archive, notes)
    raise Refused(NO_SPREADSHEET)


def _old(file: IO[bytes], notes: Notes) -> Iterator[SheetLine]:
    """An .xls file, or another kind in the same container [MS-CFB], told apart by the names of its parts."""
    from fleet.exchange.reading.sheets import xls_lines

    data = file.read()

    def has(name: str) -> bool:
        return name.encode("utf-16-le") in data

    if not has("Root Entry"):
        raise Refused(DAMAGED)
    if has("EncryptedPackage\0"):
        raise Refused(LOCKED)
    if not (has("Workbook\0") or has("Book\0")):
        raise Refused(NO_SPREADSHEET)
    if has("_VBA_PROJECT"):
        raise Refused(MACROS)
    if len(data) > LARGEST_OLD_FILE:
        raise Refused(
            _s("This old .xls file is larger than %(size)s. Save it as .xlsx.") % {"size": megabytes(LARGEST_OLD_FILE)}
        )
    return xls_lines(data, notes)
