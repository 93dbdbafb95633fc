"""The badges of horns: where one is, and how it plays. A class, a sign and a word for each."""

from __future__ import annotations

# Each badge carries a sign and a word, so that nothing is said by colour alone: (class, sign, word).
WHERE = {
    "cupboard": ("fine", "●", "in the cupboard"),
    "out": ("away", "→", "out on loan"),
    "workshop": ("care", "⚒", "in the workshop"),
    "not-found": ("stop", "?", "not found"),
    "withdrawn": ("", "–", "withdrawn"),
}
GRADES = {
    1: ("fine", "1", "plays well"),
    2: ("fine", "2", "plays, small fault"),
    3: ("care", "3", "repair before the next loan"),
    4: ("stop", "4", "must not be played"),
}
