"""Acts of several people at the same moment, with real threads and real connections."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from django.db import connection


def all_at_once(acts: list[Callable[[], object]], patience: float = 60) -> list[object]:
    """Run acts in threads that leave a barrier together; what each gave or raised, in their order.

    An act that has not ended after so many seconds is broken off, so that its connection is closed as all others are.
    """
    barrier = threading.Barrier(len(acts))
    outcomes: list[object] = [None] * len(acts)
    opened: dict[int, Any] = {}

    def run(place: int) -> None:
        try:
            connection.ensure_connection()
            opened[place] = connection.connection
            barrier.wait(timeout=30)
            outcomes[place] = acts[place]()
        except Exception as trouble:
            outcomes[place] = trouble
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for place, thread in enumerate(threads):
        thread.join(timeout=patience)
        if thread.is_alive():
            opened[place].cancel() if connection.vendor == "postgresql" else opened[place].interrupt()
            thread.join()
            outcomes[place] = TimeoutError(f"This act still waited for the others after {patience:g} seconds.")
    return outcomes
