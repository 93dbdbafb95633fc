"""Why an answer speaks for or against each whole horn, for every answer that there is."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from identify.core.reasoning.assumed import table_of
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import Hypothesis
from identify.core.reasoning.reasons import note_heard, reason_of

NOTES = CHECKS["test_note"].answers


def notes_of(key: str) -> tuple[str | None, ...]:
    """The fingerings of the test note on which what a check says depends; None for none of them."""
    return (None, *NOTES) if table_of(key, NOTES[0])[1] else (None,)


def in_rows(found: Sequence[Sequence[Any]]) -> dict[str, list[Any]]:
    """`rows`, each once, and `of`, which row is whose: of most checks many horns say the same."""
    rows = dict.fromkeys(tuple(one) for one in found)
    numbers = {row: number for number, row in enumerate(rows)}
    return {"rows": [list(row) for row in rows], "of": [numbers[tuple(one)] for one in found]}


def sentences(horns: Sequence[Hypothesis]) -> dict[str, Any]:
    """`said`, each sentence once, and `by`: check, with the test note's fingering where it matters, to the number of
    the sentence for each answer, by rows."""
    numbers: dict[str, int] = {}
    by = {}
    for key, check in CHECKS.items():

        @cache
        def row(place: int, note: str | None, key: str = key, answers: Sequence[str] = check.answers) -> list[int]:
            seen = Observations({"test_note": note} if note else {})
            said = (reason_of(horns[place], key, answer, seen).short for answer in answers)
            return [numbers.setdefault(one, len(numbers)) for one in said]

        for note in notes_of(key):
            # Of most fingerings a horn has none: what is said of those is put together once.
            found = [row(place, note_heard(one, key, note)) for place, one in enumerate(horns)]
            by[name_of_table(key, note)] = in_rows(found)
    return {"said": list(numbers), "by": by}


def name_of_table(key: str, note: str | None) -> str:
    return f"{key}/{note}" if note else key
