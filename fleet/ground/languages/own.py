"""A school's own wording of a sentence, spoken in place of ours: whoever reads ours badly put need not wait for us.

The words in force hang on the context, as the language does. What is spoken inside another language for a moment, and
goes back to this one, finds them again.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache, lru_cache
from gettext import GNUTranslations, translation
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _s
from django.utils.translation import trans_real

from fleet.ground.languages.known import ENGLISH, KNOWN

# (language, our text, our words for it) → the school's. Of a text that counts each form has words of its own.
Words = Mapping[tuple[str, str, str], str]
NONE: Words = {}
_IN_FORCE: ContextVar[Words] = ContextVar("own words", default=NONE)

PLACEHOLDER = re.compile(r"%\(\w+\)[sd]|\{[^{}]*\}")
# What a page would take for a sign of its own, or a text for the begin of a placeholder.
TAG = re.compile(r"<[^<>]*>")
SIGNS = re.compile(r"[<>&\"%{}]")
ISOLATED = re.compile("[\u2066-\u2069]")
# Not what a mail program makes a link of: it might take the sign into it.
KEPT_APART = re.compile(r"%\((?!origin)\w+\)[sd]")


@contextmanager
def in_words(words: Words) -> Iterator[None]:
    """These words are in force within."""
    before = _IN_FORCE.set(words)
    try:
        yield
    finally:
        _IN_FORCE.reset(before)


def in_force() -> Words:
    """The words in force; NONE where there are none."""
    return _IN_FORCE.get()


def word_on(words: Words) -> None:
    """These words are in force for the rest of what `in_words` holds together."""
    _IN_FORCE.set(words)


class Worded(trans_real.DjangoTranslation):
    """The catalogue of a language, in which a school's own words come first."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A page asks hundreds of times, each through all the packages' catalogues and the next language's.
        self._ours = lru_cache(maxsize=8192)(super().gettext)

    def gettext(self, message: str) -> str:
        return self._in_force(message, self._ours(message))

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self._in_force(msgid1, super().ngettext(msgid1, msgid2, n))

    def _in_force(self, text: str, ours: str) -> str:
        words = _IN_FORCE.get()
        return words.get((self.to_language(), text, ours), ours) if words else ours


def speak_own_words() -> None:
    """From now on every catalogue is read so, those too that some package asked while the site was starting."""
    trans_real.DjangoTranslation = Worded  # type: ignore[misc]
    trans_real._translations.clear()  # type: ignore[attr-defined]
    trans_real._default = None  # type: ignore[attr-defined]


class _Catalogue(GNUTranslations):
    _catalog: dict[str | tuple[str, int], str]


def texts(language: str) -> dict[str, tuple[str, ...]]:
    """What families read, but for letters, which have a page of their own: each text with our words for it in the
    language; several, where it counts."""
    return _texts(language, settings.LOCALE_PATHS[0])


@cache
def _texts(language: str, folder: Path) -> dict[str, tuple[str, ...]]:
    english = language == ENGLISH
    # English stands in the source: its texts are those of any other language, but for what counts.
    of = next(code for code in KNOWN if code != ENGLISH) if english else language
    found: dict[str, dict[str, None]] = {}
    for key, said in translation("django", folder, [of], class_=_Catalogue)._catalog.items():
        text = key if isinstance(key, str) else key[0]
        # Nobody words a comma anew.
        if any(map(str.isalpha, text)) and "{" not in text and (text is key or not english):
            found.setdefault(text, {})[text if english else said] = None
    return {text: tuple(forms) for text, forms in found.items()}


def set_apart(language: str, said: str) -> str:
    """In a language from right to left, what is filled in between signs that keep its direction."""
    if KNOWN[language].direction == "ltr":
        return said
    return KEPT_APART.sub("\u2068\\g<0>\u2069", ISOLATED.sub("", said))


def wrong_with(ours: str, said: str) -> str:
    """Why these words cannot stand in place of ours, in a sentence; "" where they can."""
    wanted, given = set(PLACEHOLDER.findall(ours)), set(PLACEHOLDER.findall(said))
    if lacking := sorted(wanted - given):
        return _s("%(placeholders)s must stand in it: the site fills it in.") % {"placeholders": ", ".join(lacking)}
    if needless := sorted(given - wanted):
        return _s("%(placeholders)s stands for nothing here.") % {"placeholders": ", ".join(needless)}
    if (tags := TAG.findall(ours)) != TAG.findall(said):
        if not tags:
            return _s("Nothing may stand in it in pointed brackets.")
        return _s("It must hold just these, in this order: %(tags)s.") % {"tags": " ".join(tags)}
    if sign := SIGNS.search(TAG.sub("", PLACEHOLDER.sub("", said))):
        return _s("The sign %(sign)s cannot stand in it.") % {"sign": sign[0]}
    return ""
