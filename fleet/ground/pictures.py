"""Photographs as they come in: looked at, drawn anew, and stripped of everything but their pixels."""

from __future__ import annotations

import io
import secrets
from typing import IO, TYPE_CHECKING, Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _s

if TYPE_CHECKING:
    from PIL import Image

LONGEST_SIDE = 1600
SMALL_SIDE = 160
FORMATS = ("JPEG", "PNG", "WEBP")
# The code of the trouble with what is no picture at all.
UNREADABLE = "unreadable"


def redrawn(upload: UploadedFile[Any]) -> tuple[ContentFile[bytes], int, int]:
    """The picture as a fresh JPEG of at most 1600 pixels a side, with its width and height.

    The camera's place, time and name are gone, since only pixels are carried over; the camera's turn is applied.
    Raises ValidationError with a sentence for anything that is not a picture of a size we take.
    """
    from PIL import Image, UnidentifiedImageError

    many = settings.PHOTOGRAPH_MAX_PIXELS // 1_000_000
    too_many = _s("This picture has too many pixels. Send one of at most %(most)s million.") % {"most": many}
    if (upload.size or 0) > settings.PHOTOGRAPH_MAX_BYTES:
        most = settings.PHOTOGRAPH_MAX_BYTES // 2**20
        raise ValidationError(_s("This picture is too large. Send one of at most %(most)s MB.") % {"most": most})
    try:
        upload.seek(0)
        with Image.open(upload, formats=FORMATS) as picture:
            # The header tells the size before any pixel is unpacked: a small file can claim a huge picture.
            if picture.width * picture.height > settings.PHOTOGRAPH_MAX_PIXELS:
                raise ValidationError(too_many)
            if picture.width < 16 or picture.height < 16:
                raise ValidationError(_s("This picture is too small to show anything."))
            flat = flattened(picture, (LONGEST_SIDE, LONGEST_SIDE))
    except ValidationError:
        raise
    except Image.DecompressionBombError as trouble:
        raise ValidationError(too_many) from trouble
    except UnidentifiedImageError as trouble:
        said = _s("This is not a picture we can read. Send a JPEG, PNG or WebP file.")
        raise ValidationError(said, code=UNREADABLE) from trouble
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError) as trouble:
        raise ValidationError(_s("This picture is damaged or cut off. Send it again.")) from trouble
    fresh = io.BytesIO()
    flat.save(fresh, "JPEG", quality=82, optimize=True)
    return ContentFile(fresh.getvalue(), name=f"{secrets.token_hex(12)}.jpg"), flat.width, flat.height


def reduced(opened: IO[bytes]) -> bytes:
    """One of our own pictures as a JPEG of at most 160 pixels a side."""
    from PIL import Image

    small = io.BytesIO()
    with Image.open(opened, formats=FORMATS) as picture:
        flat = flattened(picture, (SMALL_SIDE, SMALL_SIDE))
    flat.save(small, "JPEG", quality=75)
    return small.getvalue()


def flattened(picture: Image.Image, within: tuple[int, int]) -> Image.Image:
    """An opened picture upright, on white, and no larger than fits that many pixels across and down."""
    from PIL import Image, ImageOps

    picture.draft("RGB", (max(within), max(within)))
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail(within)
    flat = Image.new("RGB", upright.size, "white")
    if upright.mode in {"RGBA", "LA", "P"}:
        upright = upright.convert("RGBA")
        flat.paste(upright, mask=upright.getchannel("A"))
    else:
        flat.paste(upright.convert("RGB"))
    return flat
