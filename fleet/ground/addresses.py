"""Addresses of this site: what is asked for in one, where one leads back to, how one begins outside.

Nothing a stranger can write into an address is an error.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, QueryDict
from django.urls import get_script_prefix, reverse, set_script_prefix
from django.utils.http import url_has_allowed_host_and_scheme

MOST_KEY = 10**18 - 1  # Below what a database's big integer holds, so that no engine refuses the question.


def whole(said: str | None, most: int = MOST_KEY) -> int | None:
    """The whole number from 0 to `most` that is written there in plain digits, or None for anything else."""
    if not said or not said.isascii() or not said.isdigit() or len(said) > len(str(most)):
        return None
    number = int(said)
    return number if number <= most else None


def day_said(said: str) -> date | None:
    """The day that is written there as `2026-09-14`, or None for anything else."""
    try:
        return date.fromisoformat(said)
    except ValueError:
        return None


def searched_for(request: HttpRequest) -> str:
    """The words in `q` by which somebody searches, as they were typed: 80 letters, single blanks, and no character that
    a database cannot hold."""
    return " ".join(request.GET.get("q", "").replace("\0", " ").split())[:80]


def asked_back(request: HttpRequest) -> str:
    """What stands in `next`, as it was written there: for a form to carry on, never to go to."""
    return request.POST.get("next") or request.GET.get("next", "")


def address(page: str, *args: int | str) -> str:
    """The address of a page by its name, looked up once: a page of a school names some twenty, mostly the same ones."""
    return _address(get_script_prefix(), page, *args)


@lru_cache(maxsize=1024)
def _address(_prefix: str, page: str, *args: int | str) -> str:
    return reverse(page, args=args)


def query_with(said: QueryDict, **changes: Any) -> str:
    """What a page is asked, with some of it changed; an empty value removes one."""
    query: dict[str, list[Any]] = dict(said.lists())
    for name, value in changes.items():
        if value in (None, ""):
            query.pop(name, None)
        else:
            query[name] = [str(value)]
    return "?" + urlencode(query, doseq=True)


def way_back(request: HttpRequest, default: str) -> str:
    """The address in `next` when it is a page of this site, else the default. An outside address is ignored."""
    asked = asked_back(request)
    if asked.startswith("/") and url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return asked
    return default


def from_the_path() -> None:
    """For a thread of our own, which knows nothing of the path that the site lies below: its addresses begin with it
    from now on."""
    set_script_prefix(f"{settings.SITE_PATH}/")


def origin_of(request: HttpRequest) -> str:
    """The public address from the settings, else the one this request came to; without a slash at the end."""
    return settings.SITE_ORIGIN or f"{request.scheme}://{request.get_host()}"
