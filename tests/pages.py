"""How tests read a page: as a browser does, whatever the template's line ends are, and one of a print."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

from pypdf import PdfReader


def folded(answer: Any) -> str:
    """The source of an answer's page with every run of white space as one space, and none at the end of a tag."""
    return re.sub(r"\s+", " ", answer.content.decode()).replace(" >", ">")


def on_paper(pdf: bytes) -> list[str]:
    """What each page of a print says, with every run of white space as one space."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]
