"""The columns a list may have, and how their cells are to be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext

from fleet.people.models import School

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Reading:
    """How cells are to be read: the school, whether 3/4 is the third of April, the day it is, how money looks."""

    school: School
    day_first: bool
    today: date


@dataclass(frozen=True, slots=True)
class ListColumn:
    """A column people may have. `clean` takes the cell's text and gives what is kept, as text; it raises
    ValidationError. `names` are headings people give it, beside the label, which is kept in English.

    A cell that cannot be read is left empty. Where the row would then be about somebody else or say another thing
    (`vital`, and `required` as well) it refuses the row.
    """

    name: str
    label: str
    clean: Callable[[str, Reading], str]
    names: tuple[str, ...] = ()
    required: bool = False
    vital: bool = False

    @property
    def said(self) -> str:
        return gettext(self.label)


Values = dict[str, str]
