"""Which row has the headings, and which column each of them most probably means."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

from fleet.exchange.reading.columns import ListColumn
from fleet.ground.wording import plain_words

LIKE_ENOUGH = 0.84
# A number is written in many ways, and small words say nothing: `N° d’inventaire` and `Inventar-Nr.` both lose theirs.
_NUMBER = dict.fromkeys(("no", "n", "num", "nummer", "number", "numero", "nro"), "nr")
_SMALL = {"de", "d", "du", "des", "la", "le", "l", "les", "der", "die", "das", "del", "di", "the", "of", "van"}


def as_heading(text: str) -> str:
    """A heading for comparing with the known ones."""
    words = [_NUMBER.get(word, word) for word in plain_words(text).split()]
    return " ".join(word for word in words if word not in _SMALL) or " ".join(words)


def _known(columns: Sequence[ListColumn]) -> dict[str, str]:
    """Every heading we know, folded, with its column; the label wins over other columns' names."""
    known: dict[str, str] = {}
    for column in columns:
        for name in column.names:
            known.setdefault(as_heading(name), column.name)
    return known | {as_heading(column.label): column.name for column in columns}


def header_of(top: Sequence[tuple[int, Sequence[str]]], columns: Sequence[ListColumn]) -> int:
    """The number of the row that reads most like headings: titles above it have one cell, rows below have figures."""
    known = _known(columns)
    best, line = (0, 0), top[0][0] if top else 1
    for number, cells in top:
        words = [as_heading(cell) for cell in cells if cell]
        hits = sum(_nearest(word, known) is not None for word in words)
        plain_words = sum(not any(c.isdigit() for c in word) for word in words)
        if (hits, plain_words if len(words) > 1 else 0) > best:
            best, line = (hits, plain_words), number
    return line


def suggest(headings: Sequence[str], columns: Sequence[ListColumn], remembered: Mapping[str, str]) -> list[str]:
    """For each heading the column it means, or "": as it was matched the last time, else by likeness, each once."""
    known, names = _known(columns), {column.name for column in columns}
    chosen = [remembered.get(plain_words(heading), "") if heading else "" for heading in headings]
    chosen = [name if name in names else "" for name in chosen]
    taken = {name for name in chosen if name}
    # Headings matched on purpose to nothing stay so.
    left = [place for place, heading in enumerate(headings) if heading and plain_words(heading) not in remembered]
    scored = []
    for place in left:
        found = _nearest(as_heading(headings[place]), known)
        if found is not None:
            scored.append((-found[1], place, found[0]))
    for _, place, name in sorted(scored):
        if name not in taken:
            chosen[place] = name
            taken.add(name)
    return chosen


def _nearest(word: str, known: Mapping[str, str]) -> tuple[str, float] | None:
    if word in known:
        return known[word], 1.0
    if len(word) < 3:
        return None
    near = difflib.get_close_matches(word, known, n=1, cutoff=LIKE_ENOUGH)
    if not near:
        return None
    return known[near[0]], difflib.SequenceMatcher(None, word, near[0]).ratio()
