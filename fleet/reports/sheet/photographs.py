"""Photographs made ready for paper: upright, whole, and no larger than the paper can show."""

from __future__ import annotations

from io import BytesIO
from typing import BinaryIO

from fleet.ground.pictures import FORMATS, flattened

FINEST = 220 / 25.4  # pixels a millimetre: 220 an inch, more than a school's printer shows of a photograph


def for_paper(file: BinaryIO, width: float, height: float) -> BytesIO:
    """A JPEG for a frame of that size in mm. Raises OSError for a file that is no picture, or only half of one.

    Every pixel is read, since a PDF would take the bytes of half a file as they are and print a grey field.
    """
    from PIL import Image

    out = BytesIO()
    try:
        with Image.open(file, formats=FORMATS) as picture:
            flattened(picture, (round(width * FINEST), round(height * FINEST))).save(out, "JPEG", quality=85)
    except (Image.DecompressionBombError, SyntaxError, ValueError, EOFError) as trouble:
        raise OSError("This is not a whole picture.") from trouble
    out.seek(0)
    return out
