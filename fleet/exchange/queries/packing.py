"""Parts put into a .zip file with their sums, and looked at again: for a whole school as for a whole site."""

from __future__ import annotations

import hashlib
import zipfile
from typing import IO, Any, cast

PIECE = 1 << 20


def part(name: str, *, packed: bool = True) -> zipfile.ZipInfo:
    """A part of an archive, packed or as it is. It bears no clock time: what is the same gives the same file."""
    made = zipfile.ZipInfo(name)
    made.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    return made


def put(archive: zipfile.ZipFile, name: str, file: IO[bytes], *, packed: bool = False) -> str:
    """Writes a file into the archive piece by piece, as it is or packed; gives its SHA-256."""
    total = hashlib.sha256()
    with archive.open(part(name, packed=packed), "w", force_zip64=True) as written:
        while piece := file.read(PIECE):
            total.update(piece)
            written.write(piece)
    return total.hexdigest()


def sum_of(archive: zipfile.ZipFile, name: str) -> str:
    """The SHA-256 of a part. Raises BadZipFile where it is damaged, KeyError where it is not there."""
    with archive.open(name) as opened:
        return hashlib.file_digest(cast(Any, opened), "sha256").hexdigest()
