"""What was heard, kept as numbers: read from and written to text, and turned into evidence of the tube.

A note is kept as ``174.6~0.98``: hertz, and how sure the hearing was. The sound itself is never kept.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from identify.core.hearing.notes import HeardNote, Played
from identify.core.hearing.sounded import step_down, test_note
from identify.core.horns.pitch import TUNED_TO, cents_between
from identify.core.horns.speech import _s, capital

UP, DOWN = "heard_up", "heard_down"
TEST, TEST_THUMB, STEP = "heard_test", "heard_test_thumb", "heard_step"
# Fields in the order in which they are read, with how many notes each holds at most and its name in words.
FIELDS: dict[str, tuple[int, str]] = {
    UP: (8, "open notes with the thumb up"),
    DOWN: (8, "open notes with the thumb down"),
    TEST: (1, "test note with the thumb up"),
    TEST_THUMB: (1, "test note with the thumb down"),
    STEP: (2, "step down from the test note"),
}
LOWEST_HZ, HIGHEST_HZ = 20.0, 3000.0
SAME_CENTS = 50.0  # two open notes of one tube lie further apart than this up to the 16th partial

_NOTE = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,3})?)~([01](?:\.[0-9]{1,3})?)")


@dataclass(frozen=True)
class KeptNotes:
    """Notes by field of ``FIELDS``; a field without notes is left out. Open notes stand from the lowest up."""

    notes: Mapping[str, tuple[Played, ...]]

    def __getitem__(self, field: str) -> tuple[Played, ...]:
        return self.notes.get(field, ())

    def __bool__(self) -> bool:
        return bool(self.notes)

    def texts(self) -> dict[str, str]:
        """As ``read_notes`` reads them."""
        return {field: ",".join(map(_text, self[field])) for field in FIELDS if self[field]}

    def having(self, field: str, notes: Iterable[Played]) -> KeptNotes:
        """The same with other notes in one field, none to empty it."""
        return KeptNotes(_tidied({**self.notes, field: tuple(notes)}))

    def adding(self, field: str, note: Played) -> KeptNotes:
        """The same with one more note; where a field is full the newest takes the place of all or the last."""
        most, _words = FIELDS[field]
        return self.having(field, (*self[field][: most - 1], note))

    def has(self, field: str, note: Played) -> bool:
        """Whether a note is there already, or one that is as good as the same."""
        return any(abs(cents_between(one.hz, note.hz)) < SAME_CENTS for one in self[field])

    def surety(self, check: str, answer: str) -> float:
        """How sure the recordings make the answer to a check (0 to 1): 0 where they are about something else.

        A test note that was heard is as good as looked at twice, as far as the hearing is sure; so is a step.
        """
        if check == "step_down" and len(self[STEP]) == 2:
            upper, lower = (HeardNote(note.hz, note.confidence) for note in self[STEP])
            fallen = step_down(upper, lower)
            return fallen.confidence if str(fallen.semitones) == answer else 0.0
        for field, of in ((TEST, "test_note"), (TEST_THUMB, "test_note_thumb")):
            if check == of and answer != "none" and self[field]:
                (note,) = self[field]
                heard = HeardNote(note.hz, note.confidence)
                return note.confidence if any(test_note(heard, a4).is_it for a4 in TUNED_TO) else 0.0
        return 0.0

    @property
    def up(self) -> dict[str, float]:
        """How well each tube explains the open notes with the thumb up; empty below two notes."""
        return dict(_likelihoods(self[UP]))

    @property
    def down(self) -> dict[str, float]:
        """The same with the thumb down."""
        return dict(_likelihoods(self[DOWN]))


@lru_cache(maxsize=256)
def _likelihoods(notes: tuple[Played, ...]) -> tuple[tuple[str, float], ...]:
    from identify.core.hearing.open_notes import tube_likelihoods

    return tuple(tube_likelihoods(notes).items())


def _text(note: Played) -> str:
    return f"{note.hz:.1f}~{min(max(note.confidence, 0.0), 1.0):.2f}"


def _tidied(notes: Mapping[str, tuple[Played, ...]]) -> dict[str, tuple[Played, ...]]:
    """In the order of the fields; open notes upwards, since they are asked for so but decided by whichever comes."""
    tidy = {}
    for field, (most, _words) in FIELDS.items():
        kept = notes.get(field, ())[:most]
        if kept:
            tidy[field] = tuple(sorted(kept, key=lambda one: one.hz)) if field in (UP, DOWN) else kept
    return tidy


def read_notes(given: Mapping[str, str | None]) -> tuple[KeptNotes, dict[str, str]]:
    """Notes out of text, and a sentence by field for what made no sense; never raises."""
    notes: dict[str, tuple[Played, ...]] = {}
    problems: dict[str, str] = {}
    for field, (most, words) in FIELDS.items():
        text = (given.get(field) or "").strip()
        if not text:
            continue
        parts = text[:400].split(",")
        read = [_read(part) for part in parts[:most]]
        good = tuple(note for note in read if note is not None)
        if len(good) < len(parts):
            said = _s("%(field)s: part of what the address holds is no note, and is left out.")
            problems[field] = said % {"field": capital(_s(words))}
        notes[field] = good
    return KeptNotes(_tidied(notes)), problems


def _read(text: str) -> Played | None:
    found = _NOTE.fullmatch(text.strip())
    if found is None:
        return None
    hz, confidence = float(found[1]), float(found[2])
    if not (LOWEST_HZ <= hz <= HIGHEST_HZ and math.isfinite(hz) and 0 < confidence <= 1):
        return None
    return Played(hz, confidence)
