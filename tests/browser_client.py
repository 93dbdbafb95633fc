"""A client that lets go of files it was answered with and that its test did not read, as a server does."""

from __future__ import annotations

from typing import Any

from django.core.signals import request_finished
from django.db import close_old_connections
from django.test import Client

_answers: list[Any] = []


class Browser(Client):
    def request(self, **request: Any) -> Any:
        answer = super().request(**request)
        if answer.streaming:
            _answers.append(answer)
        return answer


def let_go() -> None:
    """Closes what was answered and not read. The connection to the database stays, as in Django's own client."""
    request_finished.disconnect(close_old_connections)
    try:
        while _answers:
            _answers.pop().close()
    finally:
        request_finished.connect(close_old_connections)
