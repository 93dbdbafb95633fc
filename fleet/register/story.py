"""A horn's story: what the slices have to tell of it, line by line."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple


class Told(NamedTuple):
    """One line of a horn's story; `link` is a view name with its key, or None."""

    at: datetime
    kind: str
    sentence: str
    by: str
    link: tuple[str, int] | None = None
