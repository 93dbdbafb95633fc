"""The badges of horns: where one is, and how it plays."""

from __future__ import annotations

from functools import lru_cache

from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.ground.badges import badge
from fleet.register.models import Horn

# Kind and sign of each; the words are the register's own.
WHERE = {
    "cupboard": ("fine", "●"),
    "out": ("away", "→"),
    "workshop": ("care", "⚒"),
    "not-found": ("stop", "?"),
    "withdrawn": ("", "–"),
}
GRADES = {1: "fine", 2: "fine", 3: "care", 4: "stop"}


# There are four grades and five places to be; their badges are drawn once.
@lru_cache(maxsize=16)
def where_badge(where: str) -> SafeString:
    kind, sign = WHERE.get(where, ("", "?"))
    return badge(kind, sign, dict(Horn.Where.choices).get(where, where))


@lru_cache(maxsize=16)
def grade_badge(grade: int | None) -> SafeString:
    if grade is None:
        return badge("", "?", "not checked yet")
    word = format_html(
        '<span class="visually-hidden">grade {}, </span>{}', grade, dict(Horn.Grade.choices).get(grade, "")
    )
    return badge(GRADES.get(grade, ""), str(grade) if grade in GRADES else "?", word)
