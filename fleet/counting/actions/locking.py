"""A count's row held until the transaction ends, and what is said when nothing more may happen to it."""

from __future__ import annotations

from fleet.counting.models import Count
from fleet.ground.refusal import WayOut

COUNTS = WayOut("counting:counts", "See the counts")
ENDED = "This count was ended, so nothing more is added to it. Say what you saw to whoever resolves it."
SIGNED = "This count is signed: it is kept as it is."


def locked(count: Count) -> Count:
    """The count's row as it is now, held until the transaction ends."""
    return Count.objects.select_for_update().get(pk=count.pk)
