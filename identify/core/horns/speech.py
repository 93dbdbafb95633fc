"""In which language the core speaks (English, unless the site hands it words in another), and how sentences begin."""

from __future__ import annotations

from collections.abc import Callable

_translated: Callable[[str], str] = str


def speak_by(translated: Callable[[str], str]) -> None:
    """From now on each sentence is said as this function says it, asked anew each time."""
    global _translated
    _translated = translated


def _s(sentence: str) -> str:
    return _translated(sentence)


def capital(words: str) -> str:
    """Words as a sentence begins with them; the rest stays as it is."""
    return words[:1].upper() + words[1:]
