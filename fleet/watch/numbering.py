"""Each request has a number, which its lines and its answer carry, and is counted."""

from __future__ import annotations

import logging
import re
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from fleet.watch.lines import REQUEST

LOG = logging.getLogger("fleet")
# What a proxy may call a request: enough for a UUID or 32 hexadecimal digits, too little to carry words.
NUMBER = re.compile(r"[0-9A-Fa-f-]{8,64}")
HEADER = "X-Request-ID"
# Where a wait begins to be felt, and where people give up.
BOUNDS = (0.1, 0.3, 1.0, 3.0, 10.0)
_lock = threading.Lock()
_by_status: Counter[str] = Counter()
_by_bound: Counter[float] = Counter()
_took = 0.0


def numbered(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Gives each request a number, the proxy's where it has one, tells it in the answer, writes down how it went."""

    def middleware(request: HttpRequest) -> HttpResponse:
        given = request.headers.get(HEADER, "") if settings.BEHIND_PROXY else ""
        number = given if NUMBER.fullmatch(given) else uuid.uuid4().hex
        request.number = number  # type: ignore[attr-defined]
        before, began = REQUEST.set(number), time.perf_counter()
        try:
            response = get_response(request)
            response.headers[HEADER] = number
            took = time.perf_counter() - began
            _count(response.status_code, took)
            # Files and watchdogs come by the dozen, and no page was asked for.
            if request.resolver_match is not None:
                LOG.info("answered", extra={"request": request, "status_code": response.status_code, "took": took})
            return response
        finally:
            REQUEST.reset(before)

    return middleware


def _count(status: int, took: float) -> None:
    """One request was answered."""
    global _took
    with _lock:
        _by_status[f"{status // 100}xx"] += 1
        _took += took
        for bound in BOUNDS:
            _by_bound[bound] += took <= bound


def counted() -> tuple[dict[str, int], list[int], float]:
    """Requests by status, how many took no longer than each bound, and how long all took, in seconds."""
    with _lock:
        return dict(_by_status), [_by_bound[bound] for bound in BOUNDS], _took
