"""What became of a thing that did not come back with its horn."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.running import record_of
from fleet.lending.models import LoanAccessory
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.record.queries.telling import worded
from fleet.register.actions.locking import locked_by_key


@transaction.atomic
def settle(*, accessory: LoanAccessory, settled_as: str, by: User, at: datetime) -> LoanAccessory:
    """Nobody waits for it any more: it came back later, was replaced, charged or let go.

    Raises Refused when it is not missing, when somebody has settled it, and when nobody says how.
    """
    locked_by_key(accessory.loan.horn_id)
    thing = LoanAccessory.objects.select_related("settled_by").get(pk=accessory.pk)
    if thing.came_back is not False:
        raise Refused(_s("The %(thing)s is not missing.") % {"thing": thing})
    if thing.settled_on is not None:
        raise Refused(
            _s("The %(thing)s %(what_became)s, recorded by %(settled_by)s.")
            % {"thing": thing, "what_became": thing.what_became, "settled_by": thing.settled_by}
        )
    if settled_as not in LoanAccessory.Settled.values:
        raise Refused(_s("Say what became of it."))
    thing.settled_as, thing.settled_on, thing.settled_by = settled_as, timezone.localdate(at), by
    thing.save(update_fields=["settled_as", "settled_on", "settled_by"])
    told = [["what", thing.name], ["what became of it", worded(thing, "settled_as")]]
    record_of(thing.loan, deed=Deed.ACCESSORY_SETTLED, by=by, at=at, told=told)
    return thing
