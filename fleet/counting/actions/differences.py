"""Differences of a count settled, with what they mean for the register."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.counting.actions.locking import SIGNED, locked, record_of_count
from fleet.counting.models import Line
from fleet.counting.queries.outcomes import resolutions_for
from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.record.queries.telling import worded
from fleet.register.actions.horns import amend_horn
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Place, Standing


@transaction.atomic
def resolve(*, line: Line, resolution: str, reason: str, place: Place | None = None, by: User, at: datetime) -> Line:
    """A difference settled, once, with a reason; what it means for the register is done here too."""
    count = locked(line.count)
    if count.signed_at:
        raise Refused(SIGNED)
    if count.is_open:
        raise Refused(_s("The count is still open. End the counting first."))
    now = Line.objects.select_for_update(of=("self",)).select_related("horn").get(pk=line.pk)
    if now.resolution:
        raise Refused(
            _s("%(now)s was resolved already: %(resolution)s.")
            % {"now": now, "resolution": now.get_resolution_display()}
        )
    if not now.is_difference:
        raise Refused(_s("%(now)s is where the register has it; there is nothing to resolve.") % {"now": now})
    if not reason.strip():
        raise Refused(_s("Give the reason."))
    if resolution not in resolutions_for(now, now.horn.where):
        raise Refused(
            _s("This cannot be said of %(now)s as it is now. Somebody may have changed it; look again.") % {"now": now}
        )
    _IN_THE_REGISTER.get(resolution, _nothing)(now, place, reason, by, at)
    now.resolution, now.reason, now.resolved_at, now.resolved_by = resolution, reason.strip(), at, by
    now.save(update_fields=["resolution", "reason", "resolved_at", "resolved_by"])
    told = [["settled as", worded(now, "resolution")], ["reason", now.reason]]
    record_of_count(count, deed=Deed.DIFFERENCE_SETTLED, by=by, at=at, horn=now.horn, told=told)
    return now


def _nothing(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
    """The register stays as it is."""


def _stand(kind: str) -> Callable[[Line, Place | None, str, User, datetime], None]:
    def change(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
        change_standing(horn=line.horn, kind=kind, reason=reason, by=by, at=at)

    return change


def _move(line: Line, place: Place | None, reason: str, by: User, at: datetime) -> None:
    if place is None:
        raise Refused(_s("Say which place it has now."))
    amend_horn(horn=line.horn, changes={"place": place}, by=by, at=at)


_IN_THE_REGISTER = {
    Line.Resolution.MISSING.value: _stand(Standing.Kind.NOT_FOUND),
    Line.Resolution.FOUND.value: _stand(Standing.Kind.FOUND),
    Line.Resolution.MOVED.value: _move,
}
