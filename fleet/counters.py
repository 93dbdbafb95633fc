"""The counters of the sign-in's throttles, in the database so that they hold across workers."""

from __future__ import annotations

from typing import Any

from django.core.cache.backends.db import DatabaseCache
from django.db import DatabaseError, IntegrityError, connections, transaction


class Counters(DatabaseCache):
    """Raises what the database says where nothing can be written. Django's own keeps it to itself and answers that
    somebody else has the lock, which the sign-in reads as too many tries."""

    def _base_set(self, *args: Any, **kwargs: Any) -> bool:
        unheard: list[DatabaseError] = []

        def listen(execute: Any, *said: Any) -> Any:
            try:
                return execute(*said)
            except IntegrityError:
                raise
            except DatabaseError as trouble:
                unheard.append(trouble)
                raise

        # Our own transaction around Django's, since a full disk may only tell at the end of the outermost.
        with transaction.atomic(), connections["default"].execute_wrapper(listen):
            done: bool = super()._base_set(*args, **kwargs)  # type: ignore[misc]
            if unheard:
                raise unheard[0]
        return done
