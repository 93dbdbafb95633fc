"""A file somebody sent, as rows of text: what it really is told by its content, never by its name.

Everything is bounded: the file, what it unpacks to, rows and columns. Nothing in it is run.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import IO

from fleet.refused import Refused

LARGEST_FILE = 10 * 1024 * 1024
LARGEST_UNPACKED = 96 * 1024 * 1024
MOST_PARTS = 400
MOST_ROWS = 20_000
MOST_COLUMNS = 60
LONGEST_CELL = 4000
# A sheet may be formatted down to its last row, a million below the list.
MOST_BLANK_ROWS = 2_000

Line = tuple[int, list[str]]
NO_SPREADSHEET = "This is no spreadsheet we can read. Send an .xlsx, .ods or .csv file."
A_WEB_PAGE = (
    "This is a web page, even if its name says it is a spreadsheet. Open it in a spreadsheet program, save it as "
    ".xlsx and send that."
)
DAMAGED = "This file is damaged or cut off. Save it again and send that."
TOO_LONG = f"This sheet has more than {MOST_ROWS:,} rows. Cut it into parts and send them one after another."
TOO_WIDE = f"This sheet has more than {MOST_COLUMNS} columns. Take out what does not belong to the list."
UNPACKS_TOO_LARGE = (
    f"This file unpacks to more than {LARGEST_UNPACKED // 2**20} MB. Take out pictures and other sheets, or cut it "
    "into parts."
)


@dataclass(slots=True)
class Notes:
    """What the person should know of how the file was read."""

    sentences: list[str] = field(default_factory=list)


def lines_of(file: IO[bytes], notes: Notes) -> Iterator[Line]:
    """Every row that has something in it, with its number as a spreadsheet counts (from 1), cells as text.

    `file` must be seekable. A cell that is too long keeps one letter more than it may, so that its row is refused.
    Raises Refused with a sentence for what cannot be read or is too large.
    """
    size = file.seek(0, io.SEEK_END)
    if size == 0:
        raise Refused("This file is empty.")
    if size > LARGEST_FILE:
        raise Refused(f"This file is larger than {LARGEST_FILE // 2**20} MB. Cut it into parts.")
    file.seek(0)
    count = last = 0
    for number, cells in _raw(file, notes):
        while cells and not cells[-1]:
            cells.pop()
        if number - last > MOST_BLANK_ROWS:
            if last:
                notes.sentences.append(
                    f"Below row {last} come {MOST_BLANK_ROWS:,} blank rows; what may follow them was not read."
                )
            return
        if not cells:
            continue
        count, last = count + 1, number
        if count > MOST_ROWS:
            raise Refused(TOO_LONG)
        if len(cells) > MOST_COLUMNS:
            raise Refused(TOO_WIDE)
        yield number, [cell[: LONGEST_CELL + 1] for cell in cells]


def _raw(file: IO[bytes], notes: Notes) -> Iterator[Line]:
    head = file.read(8)
    file.seek(0)
    if head.startswith(b"PK"):
        return _zipped(file, notes)
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused("This is an old .xls file, or one with a password. Open it and save it as .xlsx without one.")
    if head.startswith((b"%PDF", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"{\\rtf", b"\x1f\x8b", b"Rar!", b"7z")):
        raise Refused(NO_SPREADSHEET)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        raise Refused(A_WEB_PAGE)
    from fleet.exchange.reading_csv import csv_lines

    return csv_lines(file, notes)


def _zipped(file: IO[bytes], notes: Notes) -> Iterator[Line]:
    from fleet.exchange.reading_ods import ods_lines
    from fleet.exchange.reading_xlsx import xlsx_lines

    with readable():
        archive = zipfile.ZipFile(file)
        names = looked_over(archive)
    if "xl/workbook.xml" in names:
        if any(name.casefold().endswith("vbaproject.bin") for name in names):
            raise Refused("This file carries macros. Save it as .xlsx, without them, and send that.")
        return xlsx_lines(archive, notes)
    if "content.xml" in names and "mimetype" in names:
        if b"spreadsheet" not in archive.read("mimetype"):
            raise Refused(NO_SPREADSHEET)
        if any(name.startswith(("Basic/", "Scripts/")) for name in names):
            raise Refused("This file carries macros. Save it again without them and send that.")
        return ods_lines(archive, notes)
    raise Refused(NO_SPREADSHEET)


def looked_over(archive: zipfile.ZipFile) -> set[str]:
    """Names of the archive's parts, after making sure that none unpacks to more than we hold.

    The sizes are those the archive states; the reader stops at them, so a part that lies is damaged, not large.
    """
    parts = archive.infolist()
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
        raise Refused(UNPACKS_TOO_LARGE)
    if any(part.flag_bits & 1 for part in parts):
        raise Refused("This file has a password. Save it without one.")
    for part in parts:
        if part.filename.endswith((".xml", ".rels")):
            with archive.open(part) as opened:
                # No spreadsheet program writes one; it is how small files grow into large ones.
                if b"<!DOCTYPE" in opened.read(4096):
                    raise Refused(NO_SPREADSHEET)
    return {part.filename for part in parts}


@contextmanager
def readable() -> Iterator[None]:
    """Whatever a library raises over a damaged file, said in a sentence."""
    try:
        yield
    except Refused:
        raise
    except MemoryError as trouble:
        raise Refused(UNPACKS_TOO_LARGE) from trouble
    except Exception as trouble:
        # The libraries raise anything from KeyError to their own: what they have in common is the damaged file.
        raise Refused(DAMAGED) from trouble
