"""The rows of letters: each letter, a school's rules and words, the keys of calendars."""

from fleet.letters.models.calendar import CalendarKey
from fleet.letters.models.letters import Letter, LetterQuerySet
from fleet.letters.models.rules import LendingRules

__all__ = [
    "CalendarKey",
    "LendingRules",
    "Letter",
    "LetterQuerySet",
]
