"""Rows of a .csv file, in whatever letters, separators and line ends it was saved with (RFC 4180 and its cousins)."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from typing import IO

from django.utils.translation import gettext as _s

from fleet.exchange.reading.bounds import DAMAGED, NO_SPREADSHEET, Notes, SheetLine
from fleet.exchange.reading.cells import tidy
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused

SEPARATORS = ";,\t|"
BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def csv_lines(file: IO[bytes], notes: Notes) -> Iterator[SheetLine]:
    text = decoded(file.read(), notes)
    separator, text = separator_of(text)
    csv.field_size_limit(1_000_000)
    taken: list[str] = []
    rows = csv.reader(_remembering(text, taken), delimiter=separator)
    number = 0
    while True:
        try:
            row = next(rows, None)
        except csv.Error as trouble:
            raise Refused(DAMAGED) from trouble
        if row is None:
            return
        number += 1
        if len(taken) > 1 and _never_closed(taken, separator):
            raise Refused(
                _s(
                    "In row %(row)s a quotation mark is opened and never closed, so the rows below cannot be told "
                    "apart. Take it out and send the file again."
                )
                % {"row": number}
            )
        taken.clear()
        yield number, [tidy(cell) for cell in row]


def _remembering(text: str, taken: list[str]) -> Iterator[str]:
    """The text line by line; each goes to `taken` too, so that it can be told from which lines a row was made."""
    for line in io.StringIO(text, newline=""):
        taken.append(line)
        yield line


def _never_closed(lines: list[str], separator: str) -> bool:
    """Whether the row these lines make ends inside quotes: only the strict reader says so, by an error at the end."""
    try:
        list(csv.reader(lines, delimiter=separator, strict=True))
    except csv.Error as trouble:
        return "unexpected end of data" in str(trouble)
    return False


def decoded(data: bytes, notes: Notes) -> str:
    """The file's letters. Where nothing tells which they are, UTF-8 if it can be, else Western European."""
    for bom, name in BOMS:
        if data.startswith(bom):
            try:
                return data.decode(name)
            except UnicodeDecodeError as trouble:
                raise Refused(DAMAGED) from trouble
    start = data[:4000]
    if b"\0" in start:
        # UTF-16 without its mark: in Latin letters every other byte is empty.
        even, odd = start[::2].count(0), start[1::2].count(0)
        if max(even, odd) < 0.3 * len(start) / 2:
            raise Refused(NO_SPREADSHEET)
        try:
            return data.decode("utf-16-be" if even > odd else "utf-16-le")
        except UnicodeDecodeError as trouble:
            raise Refused(DAMAGED) from trouble
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    if sum(byte < 9 or 13 < byte < 32 for byte in start) > len(start) // 50:
        raise Refused(NO_SPREADSHEET)
    notes.add(_s_lazy("The file does not say in which letters it is written; check names with accents."))
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def separator_of(text: str) -> tuple[str, str]:
    """What stands between the cells, and the text without a first line that only says so (`sep=;`)."""
    first, _, rest = text.partition("\n")
    if first.strip().casefold().startswith("sep=") and len(first.strip()) == 5:
        return first.strip()[4], rest
    lines = text[:20_000].splitlines()[:40]
    best, chosen = (0, 0), ","
    for candidate in SEPARATORS:
        try:
            widths = Counter(len(row) for row in csv.reader(lines, delimiter=candidate) if any(row))
        except csv.Error:
            continue
        # The width that most lines share, then how wide: text with a comma in it splits unevenly.
        width, shared = max(widths.items(), key=lambda one: (one[0] > 1, one[1], one[0]), default=(1, 0))
        if width > 1 and (shared, width) > best:
            best, chosen = (shared, width), candidate
    return chosen, text
