"""The badges of horns: where one is, and how it plays."""

from __future__ import annotations

from functools import lru_cache

from django.utils.html import conditional_escape
from django.utils.safestring import SafeString
from django.utils.translation import get_language
from django.utils.translation import gettext as _s

from fleet.ground.badges import badge, drawn
from fleet.register.models import Horn
from fleet.register.models.kept import Whereabouts

# Kind and sign of each; the words are the register's own.
WHERE = {
    "out": ("away", "→"),
    "noted": ("care", "←"),
    "away": ("care", "⚒"),
    "workshop": ("care", "⚒"),
    "repair": ("care", "⚒"),
    "not-found": ("stop", "?"),
    "withdrawn": ("", "–"),
}
GRADES = {1: "fine", 2: "fine", 3: "care", 4: "stop"}


def whereabouts(horn: Horn) -> SafeString:
    """Where a horn is: a badge where that wants somebody's attention, else the plain words of its place."""
    at = horn.whereabouts
    return _whereabouts(_look(at), at.words)


def whereabouts_in_short(horn: Horn) -> SafeString:
    """The same for a table that says in another column who has it."""
    at = horn.whereabouts
    return _whereabouts(_look(at), at.state if at.code in {"out", "away", "repair"} else at.words)


def kind_and_whereabouts(horn: Horn) -> SafeString:
    """What it is and where, for the head of a page."""
    mark = " " if _look(horn.whereabouts) in WHERE else " · "
    return drawn("{}{}{}", horn.kind, mark, whereabouts(horn)) if horn.kind else whereabouts(horn)


def _look(at: Whereabouts) -> str:
    return "noted" if at.noted else at.code


def _whereabouts(code: str, words: str) -> SafeString:
    return badge(*WHERE[code], words) if code in WHERE else conditional_escape(words)


def grade_badge(grade: int | None) -> SafeString:
    return _grade_badge(grade, get_language())


def grade_in_words(grade: int) -> SafeString:
    """`plays well`, with its number for who hears the page."""
    number = _s("grade %(grade)s,") % {"grade": grade}
    words = dict(Horn.Grade.choices).get(grade, "")
    return drawn('<span class="visually-hidden">{} </span>{}', number, words)


# There are four grades; their badges are drawn once in each language.
@lru_cache(maxsize=64)
def _grade_badge(grade: int | None, _language: str | None) -> SafeString:
    if grade is None:
        return badge("", "?", _s("not checked yet"))
    word = grade_in_words(grade)
    return badge(GRADES.get(grade, ""), str(grade) if grade in GRADES else "?", word)
