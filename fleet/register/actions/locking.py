"""A horn's row held until the transaction ends, and how an act sent twice is told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from fleet.register.models import Horn

# The same words from the same person within this time are one act sent twice: a button tapped twice.
TWICE_WITHIN = timedelta(seconds=15)


def locked(horn: Horn) -> Horn:
    """The horn's row as it is now, held until the transaction ends."""
    return Horn.objects.select_for_update().get(pk=horn.pk)


def locked_all(keys: Iterable[int]) -> dict[int, Horn]:
    """Rows of several horns by their keys, held in that order, so that two who want the same never wait for ever."""
    return {horn.pk: horn for horn in Horn.objects.select_for_update().filter(pk__in=list(keys)).order_by("pk")}
