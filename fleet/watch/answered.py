"""For programs: whether the site answers, whether its database does, its figures, and that search engines stay out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, timedelta
from hmac import compare_digest

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.db import DatabaseError, connection
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from fleet.watch.figures import text


def alive(request: HttpRequest) -> HttpResponse:
    return _said("alive")


def ready(request: HttpRequest) -> HttpResponse:
    """Answered by 503 while the database does not answer, or pages cannot be drawn for want of `prepare`."""
    # Begun before its styles were gathered it knows of none until it begins anew. A server of changes has no such list.
    if getattr(staticfiles_storage, "hashed_files", None) == {}:
        return _said("not prepared: run manage.py prepare, then start anew", status=503)
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return _said("the database does not answer", status=503)
    return _said("ready")


def robots(request: HttpRequest) -> HttpResponse:
    """Nothing here is for a search engine (RFC 9309)."""
    return _said("User-agent: *\nDisallow: /")


def security(request: HttpRequest) -> HttpResponse:
    """Whom to tell of a fault (RFC 9116), where whoever runs the site says so. Not to be believed for ever: a month."""
    if not settings.SECURITY_CONTACT:
        raise Http404("Nobody is named.")
    until = (timezone.now() + timedelta(days=30)).astimezone(UTC).strftime("%Y-%m-%dT00:00:00Z")
    where = f"Canonical: {settings.SITE_ORIGIN}{request.path}\n" if settings.SITE_ORIGIN else ""
    return _said(f"Contact: {settings.SECURITY_CONTACT}\nExpires: {until}\nPreferred-Languages: en\n{where}".rstrip())


def answered(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Answers them before any other rule: who asks knows neither the site's name nor that it is on https. Figures are
    for who has their key; to others they are no page."""
    asked = {"/alive/": alive, "/ready/": ready}

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method not in {"GET", "HEAD"}:
            return get_response(request)
        if request.path_info == "/figures/" and _has_the_key(request):
            return figures(request)
        return asked.get(request.path_info, get_response)(request)

    return middleware


def figures(request: HttpRequest) -> HttpResponse:
    kind = "text/plain; version=0.0.4; charset=utf-8"
    return HttpResponse(text(), content_type=kind, headers={"Cache-Control": "no-store"})


def _has_the_key(request: HttpRequest) -> bool:
    given = request.headers.get("Authorization", "").encode()
    return bool(settings.FIGURES_KEY) and compare_digest(given, f"Bearer {settings.FIGURES_KEY}".encode())


def _said(words: str, status: int = 200) -> HttpResponse:
    kind = "text/plain; charset=utf-8"
    return HttpResponse(f"{words}\n", content_type=kind, status=status, headers={"Cache-Control": "no-store"})
