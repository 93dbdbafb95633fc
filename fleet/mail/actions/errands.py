"""Work beside the pages, begun at once: whoever pressed waits for no mail server."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from contextvars import copy_context
from datetime import datetime, timedelta

from django.db import connection

from fleet.ground.addresses import from_the_path

LOG = logging.getLogger("fleet.mail")
_lock = threading.Lock()
# By the name of each errand that runs: what is to be done once more when it is through.
_running: dict[str, Callable[[], object] | None] = {}


def beside(name: str, do: Callable[[], object]) -> threading.Thread | None:
    """Does it in a thread of its own; asked for again under the same name meanwhile, once more when it is through.

    The thread ends with its work, and a process that stops waits for it, so that no letter is left half handed over:
    whoever hands over many asks before each whether it `ends`.
    """
    with _lock:
        if name in _running:
            _running[name] = do
            return None
        _running[name] = None
    # With the number of the request that asked for it, for what is written down.
    thread = threading.Thread(target=copy_context().run, args=(_work, name, do), name=name)
    thread.start()
    return thread


def ends() -> bool:
    """Whether the process is only waiting for what runs beside it."""
    return not threading.main_thread().is_alive()


def going_on(at: datetime) -> Callable[[], datetime]:
    """The clock that stood at `at` now. A run of many letters may outlast the time after which one is given up."""
    began = time.monotonic()
    return lambda: at + timedelta(seconds=time.monotonic() - began)


def _work(name: str, do: Callable[[], object] | None) -> None:
    from_the_path()
    while do is not None:
        try:
            do()
        except Exception as trouble:
            # What waits is tried again; the words of the trouble may name somebody.
            LOG.warning("%s: not done yet (%s)", name, type(trouble).__name__)
        finally:
            connection.close()
        with _lock:
            do = _running.pop(name)
            if do is not None:
                _running[name] = None
