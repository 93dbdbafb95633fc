"""How much of a file is read, and what is said of one that is too large, damaged or no spreadsheet."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

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
NO_SPREADSHEET = "This is no spreadsheet we can read. Send an .xlsx, .ods, .xls or .csv file."
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
    except (KeyboardInterrupt, SystemExit, GeneratorExit):
        raise
    except MemoryError as trouble:
        raise Refused(UNPACKS_TOO_LARGE) from trouble
    except BaseException as trouble:
        # The libraries raise anything from KeyError to their own, which is no Exception where it is a panic: what
        # they have in common is the damaged file.
        raise Refused(DAMAGED) from trouble
