"""How tests read a page: as a browser does, whatever the template's line ends are."""

from __future__ import annotations

import re
from typing import Any


def folded(answer: Any) -> str:
    """The source of an answer's page with every run of white space as one space, and none at the end of a tag."""
    return re.sub(r"\s+", " ", answer.content.decode()).replace(" >", ">")
