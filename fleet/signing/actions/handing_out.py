"""Handing out a horn that was signed for, on paper or on the family's page."""

from __future__ import annotations

from datetime import date, datetime
from typing import Unpack

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.issuing import issue, once_each
from fleet.lending.models import Loan
from fleet.people.models import Guardian, User
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked
from fleet.signing.actions.putting_before import refuse_for_others
from fleet.signing.models import OnlineSignature, SheetOut, Terms
from fleet.signing.queries.waiting import sheet_at_home


@transaction.atomic
def hand_out(
    *,
    signed_on: date | None,
    by: User,
    at: datetime,
    online: OnlineSignature | None = None,
    **terms: Unpack[Terms],
) -> Loan:
    """Begins the loan that was signed for; whatever else this pupil's family was asked to sign for the horn is taken
    back, and sheets of the horn that are out with anybody are put away; this pupil's knows its loan.

    `signed_on` is the day of the signature on paper; `online` is one given on the family's page instead, which
    must be about exactly this loan. Raises Refused as `issue` does, when the signature is about another loan or was
    given with an address that is not the guardian's any more, and when the horn waits for another pupil.
    """
    horn = locked(terms["horn"])
    shown = terms.copy()
    shown["accessories"] = once_each(terms["accessories"])
    if online is not None:
        online = OnlineSignature.objects.select_for_update(of=("self",)).get(pk=online.pk)

    def day_signed() -> date | None:
        if online is None:
            return signed_on
        if not online.is_for(**shown) or online.withdrawn_at is not None or online.loan_id is not None:
            raise Refused(
                _s("What %(terms)s signed was something else. Ask again, or print the sheet.")
                % {"terms": terms["guardian"]}
            )
        if online.signed_at and online.signed_by_id != Guardian.objects.get(pk=online.guardian_id).user_id:
            raise Refused(
                _s("%(terms)s has another address than the one that signed. Ask again, or print it.")
                % {"terms": terms["guardian"]}
            )
        return timezone.localdate(online.signed_at) if online.signed_at else None

    at_home = online is not None or sheet_at_home(**shown) is not None
    loan = issue(**terms, signed_on=day_signed, by=by, at=at, earlier_agreement=at_home)
    if online is not None:
        online.loan = loan
        online.save(update_fields=["loan"])
    refuse_for_others(horn, terms["pupil"])
    # Whatever else the family was asked to sign for this horn is nothing to be signed any more.
    OnlineSignature.objects.unused().filter(horn=horn).update(withdrawn_at=at)
    # A horn that comes back is checked again, and no sheet from before that check is good any more.
    out = SheetOut.objects.not_put_away().filter(horn=horn)
    signed = online or out.filter(pupil=terms["pupil"]).first()
    if signed is not None and signed.language:
        loan.language = signed.language
        loan.save(update_fields=["language"])
    out.filter(pupil=terms["pupil"]).update(put_away_at=at, loan=loan)
    out.update(put_away_at=at)
    keep([horn])
    return loan
