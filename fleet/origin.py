"""How this site's own addresses begin when they leave it: in square codes, letters and calendars."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def origin_of(request: HttpRequest) -> str:
    """The public address from the settings, else the one this request came to; without a slash at the end."""
    return settings.SITE_ORIGIN or f"{request.scheme}://{request.get_host()}"
