"""What our scripts say: marked in them as in Python, and handed along in the reader's language."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from django.contrib.staticfiles.finders import find
from django.utils.translation import gettext, ngettext

# The names of marks, and how many texts each marks.
MARKS = {"_": 1, "_s": 1, "_s_many": 2}
_TEXT = r'"(?:\\.|[^"\\])*"'
_MARKED = re.compile(rf"(?<![\w.])(_|_s|_s_many)\(\s*({_TEXT})(?:,\s*({_TEXT}))?")


def marked(source: str) -> Iterator[tuple[str, str | tuple[str, str]]]:
    """Each mark of a script with the text it marks, or with both forms of the plural."""
    for mark, one, many in _MARKED.findall(source):
        yield mark, (json.loads(one), json.loads(many)) if MARKS[mark] == 2 else json.loads(one)


@cache
def _texts(name: str) -> tuple[str | tuple[str, str], ...]:
    source = Path(str(find(name))).read_text(encoding="utf-8")
    return tuple(text for _mark, text in marked(source))


def words_of(name: str) -> dict[str, str | list[str]]:
    """The sentences of a script in the language that is spoken, but for those that stay as they are."""
    found: dict[str, str | list[str]] = {}
    for text in _texts(name):
        if isinstance(text, str):
            if (said := gettext(text)) != text:
                found[text] = said
        elif (forms := [ngettext(*text, number) for number in (1, 2)]) != [*text]:
            found[text[0]] = forms
    return found
