"""Sentences kept with a list: in English, what is filled in beside them, and told in the reader's language."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import zip_longest
from typing import Any

from django.utils.dateparse import parse_date
from django.utils.translation import gettext

from fleet.ground.wording import day, in_a_row

Filled = dict[str, Any]


def told(sentence: str, filled: Mapping[str, Any] | None = None) -> str:
    """The sentence in the language spoken now. What is filled in as `…_on` is a day, a list is words of ours."""
    said = gettext(sentence)
    return said % {name: _told(name, value) for name, value in filled.items()} if filled else said


def _told(name: str, value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(gettext, value))
    return day(when) if name.endswith("_on") and (when := parse_date(value)) else str(value)


def note_told(column: str, value: str, *kept: Any) -> tuple[str, str, str]:
    """What is noted of a cell: its column, what it says, and the sentences, each kept with what is filled in."""
    return told(column), value, in_a_row(*(told(*one) for one in zip_longest(kept[::2], kept[1::2])))


def fillings(sentence: str, known: Mapping[str, Any]) -> Filled:
    """Of what is known what the sentence names, as it is kept."""
    named = {name: known[name] for name in re.findall(r"%\((\w+)\)", sentence)}
    return {name: value if isinstance(value, list) else str(value) for name, value in named.items()}
