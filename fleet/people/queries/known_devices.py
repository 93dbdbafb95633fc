"""Browsers in which somebody has signed in before: a stranger who guesses at their account must not keep them out.

A signed cookie says which browser it is and to whom it is known; nothing of it is kept here. It opens nothing: tries
from a known browser are counted by themselves, and that is all.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import get_random_string, salted_hmac

COOKIE = f"{settings.COOKIE_PREFIX}horn_known"
DAYS = 180
# Machines of a school are shared; the cookie has room for no more.
PEOPLE = 20


def device_of(request: HttpRequest) -> str:
    """Which browser it is; "" where nobody has signed in yet."""
    return str(_known(request).get("device", ""))


def device_known_to(request: HttpRequest, email: str) -> str:
    """Which browser it is, if the person with this address has signed in there; else ""."""
    known = _known(request)
    return str(known["device"]) if _mark(email) in known.get("people", []) else ""


def remember(request: HttpRequest, answer: HttpResponse, email: str) -> None:
    """Sets the cookie that says from now on that this person has signed in here."""
    known, mark = _known(request), _mark(email)
    others = [one for one in known.get("people", []) if one != mark]
    said = {"device": known.get("device") or get_random_string(22), "people": [mark, *others][:PEOPLE]}
    answer.set_cookie(
        COOKIE,
        signing.dumps(said, salt=COOKIE),
        max_age=DAYS * 24 * 3600,
        path=settings.SESSION_COOKIE_PATH,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _mark(email: str) -> str:
    return salted_hmac(COOKIE, email.lower()).hexdigest()[:16]


def _known(request: HttpRequest) -> dict[str, Any]:
    try:
        known: dict[str, Any] = signing.loads(request.COOKIES.get(COOKIE, ""), salt=COOKIE, max_age=DAYS * 24 * 3600)
    except signing.BadSignature:
        return {}
    return known
