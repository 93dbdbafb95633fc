"""A horn withdrawn, kept again, not found or found."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.pointing import what_points_to
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn, Standing

# What happens only to a horn that there is.
NO_MISTAKE = {"loan", "pastloan", "repairjob", "disposal"}
DEEDS = {
    Standing.Kind.WITHDRAWN: Deed.HORN_WITHDRAWN,
    Standing.Kind.KEPT_AGAIN: Deed.HORN_KEPT_AGAIN,
    Standing.Kind.NOT_FOUND: Deed.HORN_NOT_FOUND,
    Standing.Kind.FOUND: Deed.HORN_FOUND,
    Standing.Kind.STRUCK_OUT: Deed.HORN_STRUCK_OUT,
}


@transaction.atomic
def change_standing(*, horn: Horn, kind: str, reason: str, by: User, at: datetime, on: date | None = None) -> Standing:
    """The horn withdrawn, kept again, not found or found, on a day (today where none is given).

    What is promised to a pupil is not withdrawn: the family would be asked to sign for a horn that nobody may lend. Not
    found it may be all the same, and once it is found the promise goes on. What was lent, mended or given up was no
    mistake, and is not struck out.
    """
    now = locked(horn)
    if now.holder_name:
        raise Refused(
            _s("This horn is out with %(holder_name)s. Take it back first; what becomes of it comes after.")
            % {"holder_name": now.holder_name}
        )
    if kind not in now.events_open:
        if now.withdrawn_on:
            is_now = _s("This horn is withdrawn.")
        else:
            is_now = _s("This horn is not found.") if now.not_found_on else _s("This horn is in the register.")
        raise Refused(_s("%(is_now)s Somebody may have changed that a moment ago; look again.") % {"is_now": is_now})
    if kind == Standing.Kind.KEPT_AGAIN and now.disposals.filter(approved=True).exists():
        raise Refused(
            _s("This horn was given up for good by two people. A horn that comes back gets a number of its own.")
        )
    if kind in {Standing.Kind.WITHDRAWN, Standing.Kind.STRUCK_OUT}:
        promised_to_nobody(now)
    if kind == Standing.Kind.STRUCK_OUT and (happened := what_points_to(Horn, [now.pk], only=NO_MISTAKE)):
        raise Refused(
            _s("%(now)s has a %(happened)s on record, so it was no mistake. Withdraw it instead.")
            % {"now": now, "happened": happened}
        )
    day = on or timezone.localdate(at)
    standing = Standing.objects.create(horn=now, at=at, by=by, kind=kind, on=day, reason=reason)
    keep([now])
    told = [["on", day.isoformat()], ["reason", reason]]
    record(deed=DEEDS[Standing.Kind(kind)], school=now.school, by=by, at=at, horn=now, told=told)
    return standing


def promised_to_nobody(horn: Horn) -> None:
    """Refuses a horn whose agreement waits on a family's page, by its row as the caller holds it."""
    for reason in horn.kept_back:
        if reason.code == "promised":
            raise Refused.because(reason)
