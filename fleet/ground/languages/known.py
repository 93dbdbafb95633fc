"""The languages that families may be written to in. English is what the texts are written in; the others stand in
`locale/`, each complete, as a test holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.utils.translation import get_language, get_language_info, gettext, override
from django.utils.translation import gettext as _s

ENGLISH = "en-gb"


@dataclass(frozen=True, slots=True)
class Language:
    """`name` is what it calls itself, `english` what staff read. `read` says that a native speaker who knows brass
    has read all of it: until then a page in it says that nobody has."""

    code: str
    name: str
    english: str
    read: bool = False
    # Whether the pages of staff stand in it, too.
    for_pages_of_staff: bool = False

    @property
    def direction(self) -> str:
        return "rtl" if get_language_info(self.code)["bidi"] else "ltr"

    @property
    def for_staff(self) -> str:
        """`German (Deutsch), not yet read by a native speaker`"""
        english = _s(self.english)
        named = english if self.name == english else f"{english} ({self.name})"
        return named if self.read else _s("%(language)s, not yet read by a native speaker") % {"language": named}


KNOWN = {
    one.code: one
    for one in (
        Language(ENGLISH, "English", "English", read=True, for_pages_of_staff=True),
        Language("de", "Deutsch", "German", for_pages_of_staff=True),
        Language("fr", "Français", "French"),
        Language("es", "Español", "Spanish"),
        Language("pl", "Polski", "Polish"),
        Language("tr", "Türkçe", "Turkish"),
        Language("uk", "Українська", "Ukrainian"),
        Language("ar", "العربيّة", "Arabic"),
    )
}


def known(codes: Iterable[str]) -> list[Language]:
    """Those of the languages, in our order."""
    wanted = set(codes)
    return [one for one in KNOWN.values() if one.code in wanted]


def others_of(codes: Iterable[str], own: str) -> list[Language]:
    """Those of the languages besides a school's own."""
    return [one for one in known(codes) if one.code != own]


@contextmanager
def kept_in_english() -> Iterator[None]:
    """What is kept is in one language, whoever acts. Around a function, too, where `override` would be one for all
    threads and give one of them back the language of another."""
    with override(ENGLISH):
        yield


def is_ours(text: str) -> bool:
    """Whether a text is one of ours, which stands in every catalogue; else somebody at a school wrote it."""
    with override("de"):
        return gettext(text) != text


def spoken_tag() -> str:
    """The language spoken now as other programs name it: `en-GB`."""
    said, _, place = (get_language() or ENGLISH).partition("-")
    return f"{said}-{place.upper()}" if place else said


def named(words: str) -> Language | None:
    """The language called so, as it calls itself, or as pages of staff do: `German`, `Deutsch`, `de` or `de-AT`."""
    said = words.strip().casefold()
    return next(
        (one for one in KNOWN.values() if said in _names(one) or said.split("-")[0] == one.code.split("-")[0]), None
    )


def _names(language: Language) -> set[str]:
    names = {language.name.casefold()}
    for one in KNOWN.values():
        if one.for_pages_of_staff:
            with override(one.code):
                names.add(_s(language.english).casefold())
    return names


def choices() -> list[tuple[str, str]]:
    """Every language, as staff choose among them."""
    return [(one.code, one.for_staff) for one in KNOWN.values()]


def translated() -> list[tuple[str, str]]:
    """Every language but English."""
    return [(code, words) for code, words in choices() if code != ENGLISH]


def translated_for_staff() -> list[tuple[str, str]]:
    """Those of them in which the pages of staff stand, too."""
    return [(code, words) for code, words in translated() if KNOWN[code].for_pages_of_staff]
