"""A horn given up for good: one person proposes, another decides. Its record and its number stay its own."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.record.queries.telling import worded
from fleet.register.actions.locking import TWICE_WITHIN, locked
from fleet.register.actions.whereabouts import change_standing, promised_to_nobody
from fleet.register.models import Disposal, Horn, Standing


@transaction.atomic
def propose(
    *,
    horn: Horn,
    method: str,
    on: date,
    reason: str,
    buyer: str = "",
    price: Decimal | None = None,
    by: User,
    at: datetime,
) -> Disposal:
    """Somebody of the staff proposes to give a horn up. The horn stays as it is until another person decides.

    What it counts for today is kept with the proposal.
    """
    now = locked(horn)
    if now.struck_out:
        raise Refused(_s("%(now)s was struck out, entered by mistake: there is no horn to give up.") % {"now": now})
    there = now.disposals.exclude(approved=False).first()
    if there is not None:
        same = there.proposed_by_id == by.pk and there.method == method and there.reason == reason
        if same and at - there.proposed_at <= TWICE_WITHIN:
            return there
        raise Refused(
            _s("This horn is given up already.") if there.approved else _s("Giving this horn up is proposed already.")
        )
    made = Disposal.objects.create(
        horn=now,
        method=method,
        on=on,
        reason=reason,
        buyer=buyer,
        price=price,
        value=now.insured[0],
        proposed_at=at,
        proposed_by=by,
    )
    told = [["how", worded(made, "method")], ["reason", reason]]
    if buyer:
        told.append(["goes to", buyer])
    record(deed=Deed.DISPOSAL_PROPOSED, school=now.school, by=by, at=at, horn=now, told=told)
    return made


@transaction.atomic
def decide(
    *,
    disposal: Disposal,
    approved: bool,
    answer: str = "",
    price: Decimal | None = None,
    by: User,
    at: datetime,
) -> Disposal:
    """A second person approves, and the horn is withdrawn on the day proposed; or turns it down, and it stays.

    `price` is what is paid for it, where who proposed it did not say or said otherwise.

    Raises Refused when it is decided, by who proposed it, and to approve while the horn is out or promised.
    """
    horn = locked(disposal.horn)
    now = Disposal.objects.get(pk=disposal.pk)
    if now.decided_at is not None:
        raise Refused(
            _s("This was decided already: approved.") if now.approved else _s("This was decided already: turned down.")
        )
    if now.proposed_by_id == by.pk:
        raise Refused(_s("You proposed it yourself. Somebody else decides."))
    if approved:
        promised_to_nobody(horn)
    if approved and horn.withdrawn_on is None:
        # Lent no more from today on, even where it leaves the house later.
        day = min(now.on, timezone.localdate(at))
        change_standing(horn=horn, kind=Standing.Kind.WITHDRAWN, reason=now.reason, by=by, at=at, on=day)
    now.decided_at, now.decided_by = max(at, now.proposed_at), by
    now.approved, now.answer = approved, answer
    now.price = now.price if price is None else price
    now.save(update_fields=["decided_at", "decided_by", "approved", "answer", "price"])
    deed = Deed.DISPOSAL_APPROVED if approved else Deed.DISPOSAL_TURNED_DOWN
    record(deed=deed, school=horn.school, by=by, at=at, horn=horn, told=[["answer", answer]] if answer else ())
    return now
