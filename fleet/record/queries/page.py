"""Which page is being answered, for what is written down about it. Empty outside a request: a command."""

from __future__ import annotations

from contextvars import ContextVar

# The name of the page's address, as `loans:issue`. The doors set it.
ON_PAGE: ContextVar[str] = ContextVar("on_page", default="")
