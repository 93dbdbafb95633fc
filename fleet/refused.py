"""The one way an action says no."""

from __future__ import annotations

from django.http import HttpRequest


class Refused(Exception):
    """An action that may not happen now: a sentence with the reason, and the way out where there is one.

    `way_out` is a (view name, label) pair for a page of the same horn that removes the reason, or None.
    """

    def __init__(self, sentence: str, *, way_out: tuple[str, str] | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.way_out = way_out


def status_of(request: HttpRequest, refused: Refused | None = None) -> int:
    """The HTTP status of a page with a form: 200 when it was only opened, 409 when the action was refused, else 422.

    A form that was taken redirects, so what comes here by POST was not (RFC 9110, 15.5.10 and 15.5.21).
    """
    if request.method in {"GET", "HEAD"}:
        return 200
    return 409 if refused else 422
