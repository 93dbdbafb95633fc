"""A client that lets go of files it was answered with and that its test did not read, as a server does."""

from __future__ import annotations

import time
from typing import Any

from django.conf import settings
from django.contrib import auth
from django.contrib.sessions.backends.db import SessionStore
from django.core.signals import request_finished
from django.db import close_old_connections
from django.test import Client

from fleet.people.models import User
from fleet.people.queries.proof import SIGNED_IN

_answers: list[Any] = []


class Browser(Client):
    def request(self, **request: Any) -> Any:
        answer = super().request(**request)
        if answer.streaming:
            _answers.append(answer)
        return answer

    def come_as(self, user: User) -> None:
        """As `force_login`, yet as somebody who came in before the test and went on: nothing is written but the
        session, in which no page has to stamp that it is used."""
        now = int(time.time())
        session = SessionStore()
        session.update(
            {
                auth.SESSION_KEY: str(user.pk),
                auth.BACKEND_SESSION_KEY: settings.AUTHENTICATION_BACKENDS[0],
                auth.HASH_SESSION_KEY: user.get_session_auth_hash(),
                SIGNED_IN: now,
                "last_used": now,
            }
        )
        session.create()
        self.cookies[settings.SESSION_COOKIE_NAME] = str(session.session_key)


def let_go() -> None:
    """Closes what was answered and not read. The connection to the database stays, as in Django's own client."""
    request_finished.disconnect(close_old_connections)
    try:
        while _answers:
            _answers.pop().close()
    finally:
        request_finished.connect(close_old_connections)
