"""A horn's row held until the transaction ends, and how an act sent twice is told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.register.models import Horn

# The same words from the same person within this time are one act sent twice: a button tapped twice.
TWICE_WITHIN = timedelta(seconds=15)


def locked(horn: Horn) -> Horn:
    """The horn's row as it is now, held until the transaction ends. Refused when there is none any more."""
    return locked_by_key(horn.pk)


def locked_by_key(key: int) -> Horn:
    """`locked` for a horn nobody has in hand."""
    # All but its key, as of the school's row: who only refers to it does not wait. Else a count that begins and a horn
    # put before a family would wait for each other for ever, the one for the horn and the other for the school.
    now = Horn.objects.select_for_update(no_key=True).filter(pk=key).first()
    if now is None:
        # The one way a horn goes; it had been no more than a line of a file.
        raise Refused(_s("This horn is not on the register any more: the list it came in with was undone."))
    return now


def locked_all(keys: Iterable[int]) -> dict[int, Horn]:
    """Rows of several horns by their keys, held in that order, so that two who want the same never wait for ever."""
    return {
        horn.pk: horn for horn in Horn.objects.select_for_update(no_key=True).filter(pk__in=list(keys)).order_by("pk")
    }
