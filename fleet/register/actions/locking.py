"""A horn's row held until the transaction ends, and how an act sent twice is told."""

from __future__ import annotations

from datetime import timedelta

from fleet.register.models import Horn

# The same words from the same person within this time are one act sent twice: a button tapped twice.
TWICE_WITHIN = timedelta(seconds=15)


def locked(horn: Horn) -> Horn:
    """The horn's row as it is now, held until the transaction ends."""
    return Horn.objects.select_for_update().get(pk=horn.pk)
