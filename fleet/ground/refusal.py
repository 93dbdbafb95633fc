"""The one way an action says no."""

from __future__ import annotations


class Refused(Exception):
    """An action that may not happen now: a sentence with the reason, and the way out where there is one.

    `way_out` is a (view name, label) pair for a page of the same horn that removes the reason, or None.
    """

    def __init__(self, sentence: str, *, way_out: tuple[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.way_out = way_out
