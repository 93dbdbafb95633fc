"""What an act tells: from what to what, in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import models

from fleet.ground.languages.known import kept_in_english

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
    return [_column(row, name, before, to[name]) for name in to if (before := getattr(row, name)) != to[name]]


def set_out(row: models.Model, names: tuple[str, ...]) -> Told:
    """`[what, which]` for each of these columns that says something."""
    return [_column(row, name, value) for name in names if (value := getattr(row, name)) not in ("", None)]


def worded(row: models.Model, name: str) -> str:
    """What one column says, in words: as everything told, in English, whoever acts."""
    return _column(row, name, getattr(row, name))[1]


def in_english(row: object) -> str:
    """A row as it names itself, or a sentence of ours: what is kept is in one language, whoever acts."""
    with kept_in_english():
        return str(row)


def _column(row: models.Model, name: str, *values: Any) -> list[str]:
    """What a column is called, and values of it in words."""
    field = row._meta.get_field(name)
    with kept_in_english():
        words = dict(getattr(field, "flatchoices", ()) or ())
        return [str(getattr(field, "verbose_name", name)), *(said(_listed(value, words)) for value in values)]


def _listed(value: Any, words: Mapping[Any, Any]) -> Any:
    """The words of a choice; of several the codes, as they are kept."""
    return ", ".join(value) if isinstance(value, list | dict) else words.get(value, value)
