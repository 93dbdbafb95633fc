"""A horn strung the other way round."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.register.models import Horn, StandChange
from fleet.register.models.kinds import (
    key_in_english,
    kind_in_words,
    reversible,
    stand_in_words,
    stands_of,
    what_does_not_fit,
)


@transaction.atomic
def restring(*, horn: Horn, stands_in: str, reason: str, by: User, at: datetime) -> StandChange:
    """The horn's change valve strung the other way round. The test note is owed from now on."""
    now = locked(horn)
    if not now.build:
        raise Refused(
            _s("Say what this horn is first."),
            way_out=WayOut("identify:walk", _s("Identify it"), query=(("horn", str(now.pk)),)),
        )
    if not reversible(now.build):
        raise Refused(
            _s("A %(build)s cannot be restrung to stand in another key.") % {"build": kind_in_words(now.build)}
        )
    if now.withdrawn_on:
        raise Refused(_s("This horn is withdrawn."), way_out=now.way_back)
    if now.holder_name:
        raise Refused(
            _s("This horn is out with %(holder_name)s. Restring it when it is back.") % {"holder_name": now.holder_name}
        )
    if stands_in not in dict(stands_of(now.build)):
        raise Refused(what_does_not_fit(now.build, stands_in) or _s("Say what it stands in now."))
    if stands_in == now.stands_in:
        raise Refused(_s("This horn already stands in %(stands_in)s.") % {"stands_in": stand_in_words(stands_in)})
    change = StandChange.objects.create(horn=now, at=at, by=by, before=now.stands_in, after=stands_in, reason=reason)
    now.stands_in = stands_in
    now.save(update_fields=["stands_in"])
    keep([now])
    told = [["stands in", key_in_english(change.before), key_in_english(stands_in)], ["reason", reason]]
    record(deed=Deed.HORN_RESTRUNG, school=now.school, by=by, at=at, horn=now, told=told)
    return change
