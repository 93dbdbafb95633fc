"""What the site writes down while it runs, a line for each thing that happened, each with the number of its request.

A line names the page and never its address: Django's own would write down the path, and in it what nobody is to read.
Of an error it tells what it was and where; its words hold values of rows, and are left out where others use the site.
"""

from __future__ import annotations

import json
import logging
import traceback
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from copy import copy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from fleet.trouble import chain

# The number of the request that is being answered, "" outside of one.
REQUEST: ContextVar[str] = ContextVar("request", default="")
ROOT = f"{Path(__file__).resolve().parent.parent.parent}/"


def line(record: logging.LogRecord) -> dict[str, Any]:
    """What a record tells, for programs."""
    request = getattr(record, "request", None)
    told = {
        "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname.lower(),
        "logger": record.name,
        "request": getattr(request, "number", "") or REQUEST.get(),
        "said": _said(record),
    }
    if isinstance(request, HttpRequest):
        told |= {"method": request.method, "page": _page(request), "status": getattr(record, "status_code", None)}
    if hasattr(record, "took"):
        told["ms"] = round(record.took * 1000)
    if record.exc_info and record.exc_info[1] is not None:
        told["trouble"] = list(_trouble(record.exc_info[1]))
    return told


class InWords(logging.Formatter):
    """For who reads along in a terminal."""

    def format(self, record: logging.LogRecord) -> str:
        record = copy(record)
        told = line(record)
        record.msg, record.args, record.exc_text = told["said"], (), None
        if "page" in told:
            record.msg += f" {told['method']} {told['page']} {told['status']}"
        if told["request"]:
            record.msg += f" [{told['request']}]"
        return super().format(record)

    def formatException(self, ei: Any) -> str:
        if not settings.SITE_ORIGIN:
            return super().formatException(ei)
        return "\n".join(_trouble(ei[1]))


class InJson(logging.Formatter):
    """For a server: one line of JSON each."""

    def format(self, record: logging.LogRecord) -> str:
        return json.dumps(line(record), ensure_ascii=False)


class Hook(logging.Handler):
    """Hands what breaks, as a line tells it, to a function that whoever runs the site has named. Where that breaks,
    too, the site goes on."""

    def __init__(self, call: Callable[[dict[str, Any]], object]) -> None:
        super().__init__(logging.ERROR)
        self.call = call

    def emit(self, record: logging.LogRecord) -> None:
        try:
            self.call(line(record))
        except Exception:
            self.handleError(record)


def _said(record: logging.LogRecord) -> str:
    if isinstance(getattr(record, "request", None), HttpRequest) and record.name.startswith("django."):
        # Django's own words are the path, the host that was asked for, or what was wrong with either.
        return record.name
    return " ".join(record.getMessage().split())


def _page(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else "no such page"


def _trouble(error: BaseException) -> Iterator[str]:
    """What it was and where, of the error and of what led to it; the code that a database or a disk gives it."""
    for one in chain(error):
        code = getattr(one, "sqlstate", None) or getattr(one, "sqlite_errorname", None) or getattr(one, "errno", None)
        yield f"{type(one).__module__}.{type(one).__qualname__}{f' {code}' if code else ''}"
        for frame in traceback.extract_tb(one.__traceback__):
            yield f"{frame.filename.removeprefix(ROOT)}:{frame.lineno} {frame.name}"
