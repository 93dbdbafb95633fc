"""How much of a file is read, and what is said of one that is too large, damaged or no spreadsheet."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _s

from fleet.exchange.reading.told import Filled
from fleet.ground.languages.known import kept_in_english
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused

LARGEST_FILE = 10 * 1024 * 1024
# No look is taken into an old .xls file before it is read.
LARGEST_OLD_FILE = 2 * 1024 * 1024
LARGEST_UNPACKED = 96 * 1024 * 1024
MOST_PARTS = 400
MOST_ROWS = 20_000
MOST_COLUMNS = 60
LONGEST_CELL = 4000
# A sheet may be formatted down to its last row, a million below the list.
MOST_BLANK_ROWS = 2_000
SheetLine = tuple[int, list[str]]
LOCKED = _s_lazy("This file has a password. Save it without one.")
NO_SPREADSHEET = _s_lazy("This is no spreadsheet we can read. Send an .xlsx, .ods, .xls or .csv file.")
A_WEB_PAGE = _s_lazy(
    "This is a web page, even if its name says it is a spreadsheet. Open it in a spreadsheet program, save it as "
    ".xlsx and send that."
)
DAMAGED = _s_lazy("This file is damaged or cut off. Save it again and send that.")


def megabytes(size: int) -> str:
    return _s("%(size)s MB") % {"size": size // 2**20}


def too_long() -> Refused:
    return Refused(
        _s("This sheet has more than %(rows)s rows. Cut it into parts and send them one after another.")
        % {"rows": grouped(MOST_ROWS)}
    )


def unpacks_too_large() -> Refused:
    return Refused(
        _s("This file unpacks to more than %(size)s. Take out pictures and other sheets, or cut it into parts.")
        % {"size": megabytes(LARGEST_UNPACKED)}
    )


def grouped(number: int) -> str:
    """`20,000`, in German `20.000`."""
    return number_format(number, force_grouping=True)


@dataclass(slots=True)
class Notes:
    """What the person should know of how the file was read."""

    sentences: list[tuple[str, Filled]] = field(default_factory=list)

    def add(self, sentence: str, **filled: Any) -> None:
        with kept_in_english():
            self.sentences.append((str(sentence), filled))


def looked_over(archive: zipfile.ZipFile) -> set[str]:
    """Names of the archive's parts, after making sure that none unpacks to more than we hold.

    The sizes are those the archive states; the reader stops at them, so a part that lies is damaged, not large.
    """
    parts = archive.infolist()
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
        raise unpacks_too_large()
    if any(part.flag_bits & 1 for part in parts):
        raise Refused(LOCKED)
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
    except (KeyboardInterrupt, SystemExit, GeneratorExit):
        raise
    except MemoryError as trouble:
        raise unpacks_too_large() from trouble
    except BaseException as trouble:
        # The libraries raise anything from KeyError to their own, which is no Exception where it is a panic: what
        # they have in common is the damaged file.
        raise Refused(DAMAGED) from trouble
