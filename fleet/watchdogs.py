"""For programs: whether the site answers, whether its database does, and that search engines stay out."""

from __future__ import annotations

from collections.abc import Callable

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse


def alive(request: HttpRequest) -> HttpResponse:
    return _said("alive")


def ready(request: HttpRequest) -> HttpResponse:
    """Answered by 503 while the database does not answer."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return _said("the database does not answer", status=503)
    return _said("ready")


def robots(request: HttpRequest) -> HttpResponse:
    """Nothing here is for a search engine (RFC 9309)."""
    return _said("User-agent: *\nDisallow: /")


def answered(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Answers the two before any other rule: who asks them knows neither the site's name nor that it is on https."""
    asked = {"/alive/": alive, "/ready/": ready}

    def middleware(request: HttpRequest) -> HttpResponse:
        return (asked.get(request.path, get_response) if request.method in {"GET", "HEAD"} else get_response)(request)

    return middleware


def _said(words: str, status: int = 200) -> HttpResponse:
    kind = "text/plain; charset=utf-8"
    return HttpResponse(f"{words}\n", content_type=kind, status=status, headers={"Cache-Control": "no-store"})
