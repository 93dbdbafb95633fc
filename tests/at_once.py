"""Acts of several people at the same moment, with real threads and real connections."""

from __future__ import annotations

import threading
from collections.abc import Callable

from django.db import connection


def all_at_once(acts: list[Callable[[], object]]) -> list[object]:
    """Run acts in threads that leave a barrier together; what each gave or raised, in their order."""
    barrier = threading.Barrier(len(acts))
    outcomes: list[object] = [None] * len(acts)

    def run(place: int) -> None:
        try:
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
        thread.join(timeout=60)
        if thread.is_alive():
            outcomes[place] = TimeoutError("This act still waits for the others after a minute.")
    return outcomes
