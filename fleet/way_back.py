"""Where a page leads on to, when the page somebody came from asked to have them back."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def way_back(request: HttpRequest, default: str) -> str:
    """The address in `next` when it is a page of this site, else the default. An outside address is ignored."""
    asked = request.POST.get("next") or request.GET.get("next", "")
    if asked.startswith("/") and url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return asked
    return default
