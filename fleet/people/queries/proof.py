"""How long ago it was proven that the person at the browser is the one who signed in."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

from allauth.account.internal.flows.login import AUTHENTICATION_METHODS_SESSION_KEY, get_authentication_records
from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.http import HttpRequest

SIGNED_IN = "signed_in"


def stamp_signed_in(sender: Any, request: HttpRequest, **_: Any) -> None:
    """Notes in a session when it began; for Django's signal that somebody has signed in."""
    request.session[SIGNED_IN] = int(time.time())


def signed_in_at(request: HttpRequest) -> float:
    """Seconds since the epoch; 0 for a session that does not say."""
    return float(request.session.get(SIGNED_IN, 0))


@dataclass(frozen=True, slots=True)
class Ends:
    """When a session ends, in seconds from now: without a request, and however many there are."""

    idle: int
    left: int


def session_ends(request: HttpRequest) -> Ends:
    left = signed_in_at(request) + settings.SESSION_HOURS * 3600 - time.time()
    return Ends(int(settings.SESSION_COOKIE_AGE), max(0, int(left)))


def proofs(session: SessionBase) -> int:
    """How often it was proven in this session who it is."""
    return len(session.get(AUTHENTICATION_METHODS_SESSION_KEY) or ())


def lately_proven(request: HttpRequest) -> bool:
    """Whether the person signed in, or proved it anew, within `settings.PROOF_MINUTES`."""
    proven_at = [record["at"] for record in get_authentication_records(request, request.user)]
    age: float = time.time() - max([signed_in_at(request), *proven_at])
    return age < settings.PROOF_MINUTES * 60
