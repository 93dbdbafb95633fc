"""In which language the core speaks (English, unless the site hands it words in another), and how sentences begin."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

_translated: Callable[[str], str] = str
_figured: Callable[[float, int], str] = "{:.{}f}".format
_named: Callable[[Any], str] | None = None
_keeps_capitals: Callable[[], bool] = bool


def speak_by(
    translated: Callable[[str], str],
    figured: Callable[[float, int], str],
    named: Callable[[Any], str],
    keeps_capitals: Callable[[], bool],
) -> None:
    """From now on sentences, figures with so many places and notes are said as these functions say them, and words keep
    their capitals within a sentence if the last one says so. Each is asked anew each time."""
    global _translated, _figured, _named, _keeps_capitals
    _translated, _figured, _named, _keeps_capitals = translated, figured, named, keeps_capitals


def _s(sentence: str) -> str:
    return _translated(sentence)


def figure(number: float, places: int | None = None) -> str:
    """A figure with so many places, such as `1.5`, and `1,5` in German; else with one where it is not whole."""
    if places is None:
        places = 0 if float(number).is_integer() else 1
    return _figured(round(number, places), places)


def note_name(note: Any) -> str:
    """A `Note` as whoever reads it calls it."""
    return _named(note) if _named else str(note.letters)


def capital(words: str) -> str:
    """Words as a sentence begins with them; the rest stays as it is."""
    return words[:1].upper() + words[1:]


def within(words: str) -> str:
    """Words that begin with a capital, as they stand within a sentence: German keeps it."""
    return words if _keeps_capitals() else words[:1].lower() + words[1:]
