"""A command that is told to stop puts away what is half done and ends with a sentence."""

from __future__ import annotations

import signal
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.core.management.base import CommandError

# Ctrl-C, the system's own end, a terminal that is closed (which Windows lacks).
ENDS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


@contextmanager
def stopped_with(sentence: str) -> Iterator[None]:
    """A signal to end comes to what is inside as KeyboardInterrupt; a second one changes nothing, so that the putting
    away is not cut short. Raises CommandError with the sentence then. What is ignored already (`nohup`) stays so."""
    heard: list[int] = []

    def end(number: int, frame: Any) -> None:
        if not heard:
            heard.append(number)
            raise KeyboardInterrupt

    here = threading.current_thread() is threading.main_thread()
    usual = {one: signal.getsignal(one) for one in ENDS if here and signal.getsignal(one) is not signal.SIG_IGN}
    for one in usual:
        signal.signal(one, end)
    try:
        yield
    except BaseException as trouble:
        if not heard:
            raise
        # What is half read lets go of the database now, not when the program ends and the database is closed before it.
        traceback.clear_frames(trouble.__traceback__)
        raise CommandError(sentence, returncode=128 + heard[0]) from trouble
    finally:
        for one, handler in usual.items():
            signal.signal(one, handler)
