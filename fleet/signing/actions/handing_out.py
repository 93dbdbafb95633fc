"""Handing out a horn that was signed for, on paper or on the family's page."""

from __future__ import annotations

from datetime import date, datetime
from typing import Unpack

from django.db import transaction
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.lending.actions.issuing import issue, once_each
from fleet.lending.models import Loan
from fleet.people.models import User
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.signing.models import OnlineSignature, Terms


@transaction.atomic
def hand_out(
    *,
    signed_on: date | None,
    by: User,
    at: datetime,
    online: OnlineSignature | None = None,
    **terms: Unpack[Terms],
) -> Loan:
    """Begins the loan that was signed for; whatever else waits to be signed for its horn is taken back.

    `signed_on` is the day of the signature on paper; `online` is one given on the family's page instead, which
    must be about exactly this loan. Raises Refused as `issue` does, and when the signature is about another loan.
    """
    horn = locked(terms["horn"])
    shown = terms.copy()
    shown["accessories"] = once_each(terms["accessories"])
    if online is not None:
        online = OnlineSignature.objects.select_for_update(of=("self",)).select_related("agreement").get(pk=online.pk)

    def day_signed() -> date | None:
        if online is None:
            return signed_on
        if not online.is_for(**shown) or online.withdrawn_at is not None or online.loan_id is not None:
            raise Refused(f"What {terms['guardian']} signed was something else. Ask again, or print the sheet.")
        return timezone.localdate(online.signed_at) if online.signed_at else None

    loan = issue(**terms, signed_on=day_signed, by=by, at=at)
    if online is not None:
        online.loan = loan
        online.save(update_fields=["loan"])
    # Whatever else a family was asked to sign for this horn is nothing to be signed any more.
    OnlineSignature.objects.unused().filter(horn=horn).update(withdrawn_at=at)
    keep([horn])
    return loan
