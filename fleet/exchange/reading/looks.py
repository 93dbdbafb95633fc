"""What a sheet would take in memory, and which of its cells hold formulas, told from its XML before it is read.

The library that reads sheets holds every cell between the first and the last one, copies a text for each cell that
has it, and cannot tell a formula or an error from a blank.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from xml.parsers import expat

from fleet.exchange.reading.bounds import (
    LARGEST_UNPACKED,
    MOST_COLUMNS,
    MOST_ROWS,
    NO_SPREADSHEET,
    too_long,
    unpacks_too_large,
)
from fleet.ground.refusal import Refused

BYTES_A_CELL = 24
_MOST_INSTEAD = 50_000


@dataclass(slots=True)
class SheetLook:
    """`rows` with something in them, the `last` row (from 1) and `width`; bytes of `text` when each cell has its own.

    `instead` says by row (from 1) and column (from 0) what stands where the library finds nothing.
    """

    rows: int = 0
    last: int = 0
    width: int = 0
    text: int = 0
    formulas: int = 0
    instead: dict[int, dict[int, str]] = field(default_factory=dict)

    def bounded(self) -> None:
        """Raises Refused where the sheet would take more room than a file may."""
        if self.last * self.width * BYTES_A_CELL + self.text > LARGEST_UNPACKED:
            raise too_long() if self.rows > MOST_ROWS else unpacks_too_large()

    def put(self, row: int, column: int, words: str) -> None:
        if column <= MOST_COLUMNS and len(self.instead) < _MOST_INSTEAD:
            self.instead.setdefault(row, {})[column] = words

    @property
    def has_rows(self) -> bool:
        return bool(self.rows or self.instead)


def _walked(
    xml: bytes, begin: Callable[[str, dict[str, str]], None], end: Callable[[str], None], say: Callable[[str], None]
) -> None:
    def no_doctype(*_: object) -> None:
        # No spreadsheet program writes one; it is how small files grow into large ones.
        raise Refused(NO_SPREADSHEET)

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = no_doctype
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = begin, end, say
    parser.Parse(xml, True)


def lengths_of_strings(xml: bytes) -> list[int]:
    """How long each of an .xlsx file's shared strings is."""
    lengths: list[int] = []

    def begin(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2] == "si":
            lengths.append(0)

    def say(words: str) -> None:
        if lengths:
            lengths[-1] += len(words)

    _walked(xml, begin, lambda name: None, say)
    return lengths


def look_at_xlsx(xml: bytes, strings: Sequence[int]) -> SheetLook:
    """Of one worksheet part (ISO/IEC 29500-1, 18.3.1)."""
    look = SheetLook()
    row = column = counted = 0
    kind, words, formula, inside = "", "", False, False

    def begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal row, column, kind, words, formula, inside
        tag = name.rpartition(":")[2]
        if tag == "c":
            place = attributes.get("r", "")
            letters = place.rstrip("0123456789")
            if letters:
                row, column = max(int(place[len(letters) :]), 1), _column(letters)
            else:
                column += 1
            kind, words, formula = attributes.get("t", ""), "", False
        elif tag in {"v", "t"}:
            inside = True
        elif tag == "f":
            formula = True
        elif tag == "row":
            row, column = int(attributes.get("r", row + 1)), -1

    def end(name: str) -> None:
        nonlocal inside, counted
        tag = name.rpartition(":")[2]
        if tag in {"v", "t"}:
            inside = False
        elif tag == "c":
            look.formulas += formula
            if not words:
                if formula:
                    look.put(row, column, "=")
                return
            if kind == "e":
                look.put(row, column, words)
            look.text += strings[int(words)] if kind == "s" else len(words)
            look.last, look.width = max(look.last, row), max(look.width, column + 1)
            if row != counted:
                look.rows, counted = look.rows + 1, row

    def say(said: str) -> None:
        nonlocal words
        if inside:
            words += said

    _walked(xml, begin, end, say)
    look.bounded()
    return look


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def look_at_ods(xml: bytes) -> Mapping[str, SheetLook]:
    """Of every table of a document's content, by name (ISO/IEC 26300-1, 9.1). Equal rows and cells stand there once."""
    looks: dict[str, SheetLook] = {}
    look = SheetLook()
    row = column = times = 0
    cell: dict[str, str] = {}
    words = ""
    text = width = 0

    def begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal look, row, column, times, cell, words, text, width
        if name in {"table:table-cell", "table:covered-table-cell"}:
            cell, words = attributes, ""
        elif name == "table:table-row":
            times, column, text, width = int(attributes.get("table:number-rows-repeated", "1")), 0, 0, 0
        elif name == "table:table":
            look = looks[attributes.get("table:name", "")] = SheetLook()
            row = 0

    def end(name: str) -> None:
        nonlocal row, column, text, width
        if name in {"table:table-cell", "table:covered-table-cell"}:
            repeated = int(cell.get("table:number-columns-repeated", "1"))
            formula = "table:formula" in cell
            saved = words or any(value for kind, value in cell.items() if kind in _VALUES)
            look.formulas += formula
            if formula and not saved:
                look.put(row + 1, column, "=")
            elif cell.get("calcext:value-type") == "error":
                look.put(row + 1, column, words)
            column += repeated
            if saved:
                text += repeated * len(words)
                width = column
        elif name == "table:table-row":
            if width:
                look.rows, look.last = look.rows + times, row + times
                look.width, look.text = max(look.width, width), look.text + text * times
                look.bounded()
            row += times

    def say(said: str) -> None:
        nonlocal words
        words += said

    _walked(xml, begin, end, say)
    if sum(one.last * one.width * BYTES_A_CELL + one.text for one in looks.values()) > LARGEST_UNPACKED:
        raise unpacks_too_large()
    return looks


_VALUES = {
    f"office:{kind}" for kind in ("value", "date-value", "time-value", "boolean-value", "string-value")
}  # fmt: skip
