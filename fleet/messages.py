"""Where a message waits for the next page: in a cookie, as Django does it, but under a name of our own."""

from __future__ import annotations

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class InCookie(CookieStorage):
    cookie_name = f"{settings.COOKIE_PREFIX}messages"


class Messages(FallbackStorage):
    storage_classes = (InCookie, SessionStorage)
