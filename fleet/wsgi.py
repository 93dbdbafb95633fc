import gc
import os
from collections.abc import Callable, Iterable
from typing import Any

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver
from django.utils.http import parse_header_parameters

from fleet.policies import POLICIES
from fleet.trouble import UNREAD, drawn

Site = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def in_our_letters(site: Site) -> Site:
    """Refuses forms in other letters than utf-8, which no browser sends from our pages. Django would read them as they
    say, and for some cannot even begin to."""

    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        try:
            letters = parse_header_parameters(environ.get("CONTENT_TYPE", ""))[1].get("charset", "utf-8")
        except ValueError:
            letters = ""
        if letters.lower() == "utf-8":
            return site(environ, start_response)
        kind = {"Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store"}
        start_response("400 Bad Request", [*kind.items(), *POLICIES.items()])
        return [drawn(UNREAD).encode()]

    return application


os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
# The addresses are read here, not with the first request, which would wait for them. What is read stays to the end:
# looking through it for rubbish again and again would take a sixth of the start, and a moment of some requests later.
gc.disable()
application = in_our_letters(get_wsgi_application())
get_resolver().url_patterns  # noqa: B018
gc.freeze()
gc.enable()
