"""What an act tells: from what to what, in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import models

# A text of a page or more is told by its beginning.
LONGEST = 200
Told = list[list[str]]


def said(value: Any) -> str:
    """A value as it is told; "" for nothing."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime | date):
        return value.isoformat()
    words = str(value)
    return words if len(words) <= LONGEST else f"{words[:LONGEST]}…"


def moved(row: models.Model, to: Mapping[str, Any]) -> Told:
    """`[what, from, to]` for each column of the row that differs from the value it is to have."""
    told = []
    for name, value in to.items():
        before = getattr(row, name)
        if before == value:
            continue
        field = row._meta.get_field(name)
        words = dict(getattr(field, "flatchoices", ()) or ())
        told.append(
            [
                str(getattr(field, "verbose_name", name)),
                said(words.get(before, before)),
                said(words.get(value, value)),
            ]
        )
    return told


def set_out(row: models.Model, names: tuple[str, ...]) -> Told:
    """`[what, which]` for each of these columns that says something."""
    told = []
    for name in names:
        field = row._meta.get_field(name)
        words = dict(getattr(field, "flatchoices", ()) or ())
        value = getattr(row, name)
        if value not in ("", None):
            told.append([str(getattr(field, "verbose_name", name)), said(words.get(value, value))])
    return told
