"""A count's row held until the transaction ends, and what is said when nothing more may happen to it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fleet.counting.models import Count
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import WayOut
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.models import Horn

COUNTS = WayOut("counting:counts", _s_lazy("See the counts"))
ENDED = _s_lazy("This count was ended, so nothing more is added to it. Say what you saw to whoever resolves it.")
SIGNED = _s_lazy("This count is signed: it is kept as it is.")


def locked(count: Count) -> Count:
    """The count's row as it is now, held until the transaction ends."""
    return Count.objects.select_for_update().get(pk=count.pk)


def record_of_count(
    count: Count, *, deed: Deed, by: User, at: datetime, told: Sequence[Sequence[str]] = (), horn: Horn | None = None
) -> None:
    record(deed=deed, school=count.school, by=by, at=at, horn=horn, told=[["count", count.title], *told])
