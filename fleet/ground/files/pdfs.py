"""PDFs as they come in, looked at by what they hold, and pages laid behind pages."""

from __future__ import annotations

import io
import secrets
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _s

from fleet.ground.pictures import UNREADABLE, redrawn

MOST_MEGABYTES = 8
MOST_PAGES = 30
BEGINS = b"%PDF-"


def kept_pdf(upload: UploadedFile[Any]) -> tuple[ContentFile[bytes], int]:
    """The PDF as it was sent, under a name of ours, and how many pages it has. Raises ValidationError with a sentence
    for anything else, for one with a password, and for one of more than 8 MB or 30 pages."""
    from pypdf import PdfReader

    if (upload.size or 0) > MOST_MEGABYTES * 2**20:
        raise ValidationError(_s("This file is too large. Send one of at most %(most)s MB.") % {"most": MOST_MEGABYTES})
    upload.seek(0)
    content = upload.read()
    if not content.startswith(BEGINS):
        raise ValidationError(_s("This is not a PDF."))
    try:
        reader = PdfReader(io.BytesIO(content))
        locked = reader.is_encrypted
        pages = 0 if locked else len(reader.pages)
    # A damaged file may break the reader anywhere.
    except Exception as trouble:
        raise ValidationError(_s("This PDF is damaged or cut off. Send it again.")) from trouble
    if locked:
        raise ValidationError(_s("This PDF has a password. Save it without one."))
    if not 1 <= pages <= MOST_PAGES:
        raise ValidationError(
            _s("This PDF has %(pages)s pages. Send one of 1 to %(most)s.") % {"pages": pages, "most": MOST_PAGES}
        )
    return ContentFile(content, name=f"{secrets.token_hex(12)}.pdf"), pages


def laid_behind(pdf: bytes, attached: bytes, *, parts: int) -> bytes:
    """A PDF of so many equal parts with all pages of another one behind each."""
    from pypdf import PdfReader, PdfWriter

    writer, behind = PdfWriter(clone_from=io.BytesIO(pdf)), PdfReader(io.BytesIO(attached))
    each = len(writer.pages) // parts
    # From the end, so that the places of those before stay.
    for part in range(parts, 0, -1):
        writer.merge(part * each, behind, import_outline=False)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def kept_paper(upload: UploadedFile[Any]) -> ContentFile[bytes]:
    """A paper as a PDF or a photograph, told by what the file holds. Raises ValidationError as `kept_pdf` and
    `redrawn` do, and for what is neither."""
    upload.seek(0)
    if upload.read(len(BEGINS)) == BEGINS:
        return kept_pdf(upload)[0]
    try:
        return redrawn(upload)[0]
    except ValidationError as trouble:
        if trouble.code != UNREADABLE:
            raise
        raise ValidationError(
            _s("This is neither a photograph nor a PDF that we can read. Send a JPEG, PNG, WebP or PDF file.")
        ) from trouble
