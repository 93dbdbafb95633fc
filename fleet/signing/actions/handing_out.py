"""Handing out a horn that was signed for. It locks the horn's row first.

Two people who lend the same horn at the same moment queue at that lock; the second then reads that it is out.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from fleet.ground.refusal import Refused
from fleet.ground.wording import day
from fleet.lending.actions.agreements import kept_version
from fleet.lending.actions.issuing import MOST_ACCESSORIES, begin, once_each
from fleet.lending.models import Loan
from fleet.lending.queries.lendable import why_not
from fleet.people.models import Guardian, Pupil, User
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature
from fleet.workshop.queries.condition import latest_check


@transaction.atomic
def issue(
    *,
    horn: Horn,
    pupil: Pupil,
    guardian: Guardian,
    agreement_version: int,
    check_seen: int,
    due_on: date,
    signed_on: date | None,
    accessories: Sequence[str],
    by: User,
    at: datetime,
    online: OnlineSignature | None = None,
) -> Loan:
    """Lends a horn to a pupil after the guardian has signed, and moves the horn's holder and due date.

    `signed_on` is the day of the signature on paper; `online` is one given on the family's page instead, which
    must be about exactly this loan. `agreement_version` and `check_seen` (the key of a condition check) say what
    the signed sheet showed. Raises Refused with the reason: the horn may not be lent now, the sheet is out of
    date, nobody signed, or the people do not belong together.
    """
    horn = Horn.objects.select_for_update().get(pk=horn.pk)
    today = timezone.localdate(at)
    refused = why_not(horn)
    if refused is not None:
        raise refused
    _together(horn, pupil, guardian)
    if due_on < today:
        raise Refused(f"The due date, {day(due_on)}, is in the past.")
    names = once_each(accessories)
    if online is not None:
        online = OnlineSignature.objects.select_for_update(of=("self",)).select_related("agreement").get(pk=online.pk)
        fits = online.is_for(
            horn=horn,
            pupil=pupil,
            guardian=guardian,
            agreement_version=agreement_version,
            check_seen=check_seen,
            due_on=due_on,
            accessories=names,
        )
        if not fits or online.withdrawn_at is not None or online.loan_id is not None:
            raise Refused(f"What {guardian} signed was something else. Ask again, or print the sheet.")
        signed_on = timezone.localdate(online.signed_at) if online.signed_at else None
    if signed_on is None:
        raise Refused(f"{guardian} signs the sheet before the horn goes out. Say when it was signed.")
    if signed_on > today:
        raise Refused(f"The guardian cannot have signed on {day(signed_on)}: that day has not come yet.")
    if len(names) > MOST_ACCESSORIES:
        raise Refused(f"A loan sheet has room for {MOST_ACCESSORIES} accessories; put small things under one name.")
    agreement = kept_version(horn.school_id, agreement_version, at)
    if agreement is None:
        raise Refused("The agreement has a newer version than the sheet. Print the sheet again and have it signed.")
    check = latest_check(horn)
    if check is None or check.pk != check_seen:
        raise Refused(f"{horn} was checked again after the sheet was printed. Print the sheet again.")

    loan = Loan(pupil=pupil, guardian=guardian, agreement=agreement, signed_on=signed_on, due_on=due_on)
    begin(loan, horn=horn, check=check, accessories=names, by=by, on=today)
    if online is not None:
        online.loan = loan
        online.save(update_fields=["loan"])
    # Whatever else a family was asked to sign for this horn is nothing to be signed any more.
    OnlineSignature.objects.unused().filter(horn=horn).update(withdrawn_at=at)
    keep([horn])
    return loan


def _together(horn: Horn, pupil: Pupil, guardian: Guardian) -> None:
    if pupil.school_id != horn.school_id:
        raise Refused("This pupil belongs to another school.")
    if pupil.left_on is not None:
        raise Refused(f"{pupil} left the school on {day(pupil.left_on)}.")
    if not pupil.guardians.filter(pk=guardian.pk).exists():
        raise Refused(f"{guardian} does not answer for {pupil}, so cannot sign.")
