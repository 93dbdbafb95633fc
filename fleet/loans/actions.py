"""What happens to a loan. Each action is one transaction that locks the horn's row first.

Two people who lend the same horn at the same moment queue at that lock; the second then reads that it is out.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from fleet.loans.agreement import kept_version
from fleet.loans.lending import day, last_ended, why_not
from fleet.loans.models import Loan, LoanAccessory, OnlineSignature
from fleet.people.models import Guardian, Pupil, User
from fleet.refused import Refused
from fleet.register.models import Horn
from fleet.workshop.condition import latest_check
from fleet.workshop.models import ConditionCheck

MOST_ACCESSORIES = 16
# What an ending writes of a loan, whichever way it ends.
ENDING = (
    "returned_on",
    "returned_to",
    "return_notes",
    "lost_words",
    "check_at_return",
    "mouthpiece_cleaned_on",
    "mouthpiece_cleaned_by",
)


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
    return loan


@transaction.atomic
def give_back(
    *,
    loan: Loan,
    returned_on: date,
    came_back: Collection[int],
    look_over: Callable[[Horn], ConditionCheck],
    mouthpiece_cleaned_on: date | None,
    notes: str,
    by: User,
    at: datetime,
    rest_stays: bool = False,
) -> Loan:
    """Takes a horn back: what came back with it, how it is, whether the mouthpiece was cleaned.

    `came_back` holds keys of the loan's accessories. `look_over` logs the check that belongs to the return; it
    is called inside the transaction, so that a return without its check, or a check without its return, cannot
    stay behind. With `rest_stays` what did not come back is not missing: it
    stays with the pupil. Raises Refused when the loan has ended already and for days that cannot be.
    """
    horn = Horn.objects.select_for_update().get(pk=loan.horn_id)
    loan = Loan.objects.select_related("pupil", "returned_to").get(pk=loan.pk)
    today = timezone.localdate(at)
    if loan.returned_on is not None:
        raise Refused(f"{horn} came back on {day(loan.returned_on)}, taken by {loan.returned_to}.")
    if returned_on < loan.issued_on:
        raise Refused(f"{horn} went out on {day(loan.issued_on)}; it cannot have come back before that.")
    if returned_on > today:
        raise Refused(f"{horn} cannot have come back on {day(returned_on)}: that day has not come yet.")
    if mouthpiece_cleaned_on is not None:
        _cleaning_day(mouthpiece_cleaned_on, returned_on, today)
        loan.mouthpiece_cleaned_by = by
    loan.mouthpiece_cleaned_on = mouthpiece_cleaned_on
    loan.return_notes, loan.check_at_return = notes.strip(), look_over(horn)
    horn.refresh_from_db(fields=["test_note_owed", "grade", "checked_on"])
    end(loan, horn=horn, came_back=came_back, rest=None if rest_stays else False, by=by, on=returned_on, at=at)
    return loan


def begin(loan: Loan, *, horn: Horn, check: ConditionCheck, accessories: Sequence[str], by: User, on: date) -> None:
    """What begins every loan, inside its action's transaction: its row, what goes along, the horn in their hands."""
    loan.horn, loan.check_at_issue, loan.stands_in = horn, check, horn.stands_in
    loan.issued_on, loan.issued_by = on, by
    loan.save(force_insert=True)
    LoanAccessory.objects.bulk_create(LoanAccessory(loan=loan, name=name) for name in accessories)
    horn.holder_name, horn.due_on = loan.pupil.name, loan.due_on
    horn.save(update_fields=["holder_name", "due_on"])


def end(
    loan: Loan, *, horn: Horn, came_back: Collection[int], rest: bool | None, by: User, on: date, at: datetime
) -> None:
    """What ends every loan, inside its action's transaction: the day, what came back, the horn in nobody's hands.
    What the family asked about it is answered by that.

    `rest` is what became of the accessories that did not come back: False for missing, None for still with the pupil.
    """
    loan.returned_on, loan.returned_to = on, by
    loan.save(update_fields=ENDING)
    loan.accessories.filter(pk__in=came_back).update(came_back=True)
    loan.accessories.exclude(pk__in=came_back).update(came_back=rest)
    words = "The school has recorded it as lost." if loan.was_lost else f"It came back on {day(on)}."
    loan.asks.unanswered().update(answer=words, answered_at=at, answered_by=by)
    horn.holder_name, horn.due_on = "", None
    horn.save(update_fields=["holder_name", "due_on"])


@transaction.atomic
def record_mouthpiece_cleaned(*, loan: Loan, cleaned_on: date, by: User, at: datetime) -> Loan:
    """Records after a return that the mouthpiece was cleaned. Raises Refused where there is nothing to record."""
    horn = Horn.objects.select_for_update().get(pk=loan.horn_id)
    loan = Loan.objects.select_related("mouthpiece_cleaned_by").get(pk=loan.pk)
    if loan.returned_on is None:
        raise Refused(
            f"{horn} is still out; the mouthpiece is cleaned when it comes back.",
            way_out=("loans:return", "Take it back"),
        )
    if loan.mouthpiece_cleaned_on is not None:
        when = day(loan.mouthpiece_cleaned_on)
        raise Refused(f"{loan.mouthpiece_cleaned_by} recorded already that it was cleaned on {when}.")
    latest = last_ended(horn)
    if latest is None or latest.pk != loan.pk:
        raise Refused(f"{horn} has been out again since; record the cleaning after the latest loan.")
    _cleaning_day(cleaned_on, loan.returned_on, timezone.localdate(at))
    loan.mouthpiece_cleaned_on, loan.mouthpiece_cleaned_by = cleaned_on, by
    loan.save(update_fields=["mouthpiece_cleaned_on", "mouthpiece_cleaned_by"])
    return loan


def once_each(names: Sequence[str]) -> list[str]:
    """Names without blanks around them, none twice whatever its capitals, in their order."""
    return list({name.strip().casefold(): name.strip() for name in names if name.strip()}.values())


def _together(horn: Horn, pupil: Pupil, guardian: Guardian) -> None:
    if pupil.school_id != horn.school_id:
        raise Refused("This pupil belongs to another school.")
    if pupil.left_on is not None:
        raise Refused(f"{pupil} left the school on {day(pupil.left_on)}.")
    if not pupil.guardians.filter(pk=guardian.pk).exists():
        raise Refused(f"{guardian} does not answer for {pupil}, so cannot sign.")


def _cleaning_day(cleaned_on: date, returned_on: date, today: date) -> None:
    if cleaned_on < returned_on:
        raise Refused(f"The horn came back on {day(returned_on)}; clean the mouthpiece after that.")
    if cleaned_on > today:
        raise Refused(f"The mouthpiece cannot have been cleaned on {day(cleaned_on)}: that day has not come yet.")
