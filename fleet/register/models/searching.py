"""How horns are found by words: one column, made alike on both sides, looked up by three letters at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from fleet.ground.wording import folded
from fleet.people.models.searched import words_of
from fleet.people.models.trigrams import having, looked_up, trigrams_of
from fleet.register.models.numbers import typed_as

if TYPE_CHECKING:
    from fleet.people.models import School

Horns = TypeVar("Horns", bound=models.QuerySet[Any])

LONGEST_QUERY = 100
HORNS = "register_horn"
NUMBERS = "register_horn.number"
TABLE = trigrams_of(HORNS)


def searchable(*parts: str) -> str:
    """Parts joined, casefolded, without accents: what the search looks in, and what is typed is made alike."""
    return folded(" ".join(part for part in parts if part))


def having_words(horns: Horns, query: str, *, school: School, walk: bool = False) -> Horns:
    """Horns of this school `having` every word of the query.

    With `walk` the words are compared row by row along whatever order is asked for: quicker when so many horns
    match that a page is full after a few rows.
    """
    wanted = words_of(query[:LONGEST_QUERY])
    return looked_up(horns, HORNS, wanted, school) if wanted and not walk else horns.filter(*map(having, wanted))


def ways_by_number(rows: Horns, way: str, word: str, school: School) -> tuple[Horns, Horns]:
    """Those of these rows from which a way leads to a horn of this school that is `numbered` so: two kinds, each along
    an index of its own. To be limited (`looked_up`)."""
    holding = looked_up(rows, NUMBERS, [word], school, way=way)
    return holding, rows.filter(typed_as(word, f"{way}__"), **{f"{way}__school": school})


def make_order(connection: BaseDatabaseWrapper) -> None:
    """Make the index that only PostgreSQL needs."""
    if connection.vendor == "postgresql":
        # PostgreSQL sorts the empty to the end unless told otherwise; the list has horns never checked first.
        with connection.cursor() as cursor:
            cursor.execute(
                "CREATE INDEX IF NOT EXISTS horn_by_check_empty_first ON register_horn "
                "(school_id, checked_on NULLS FIRST, number_stem, number_tail, id)"
            )
