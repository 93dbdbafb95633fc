"""Taking horns back, and losing one. Each action is one transaction that locks the horn's row first.

Of two people who take the same horn back at the same moment, the second reads that it is back.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day
from fleet.lending.actions.running import locked_while_running, record_of
from fleet.lending.models import Ended, Loan, ReturnNote
from fleet.lending.queries.loans import current_loan, last_ended
from fleet.people.models import User
from fleet.people.queries.own_words import speaking
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.actions.locking import locked, locked_by_key
from fleet.register.actions.whereabouts import change_standing
from fleet.register.models import Horn, Standing
from fleet.workshop.actions.brought import went_back
from fleet.workshop.models import ConditionCheck

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
    horn = locked_by_key(loan.horn_id)
    loan = Loan.objects.select_related("pupil", "returned_to").get(pk=loan.pk)
    today = timezone.localdate(at)
    if loan.returned_on is not None:
        raise Refused(_ended_already(loan, horn))
    if returned_on < loan.issued_on:
        raise Refused(
            _s("%(horn)s went out on %(issued_on)s; it cannot have come back before that.")
            % {"horn": horn, "issued_on": day(loan.issued_on)}
        )
    if returned_on > today:
        raise Refused(
            _s("%(horn)s cannot have come back on %(returned_on)s: that day has not come yet.")
            % {"horn": horn, "returned_on": day(returned_on)}
        )
    if mouthpiece_cleaned_on is not None:
        _cleaning_day(mouthpiece_cleaned_on, returned_on, today)
        loan.mouthpiece_cleaned_by = by
    loan.mouthpiece_cleaned_on = mouthpiece_cleaned_on
    loan.return_notes, loan.check_at_return = notes.strip(), look_over(horn)
    end(loan, horn=horn, came_back=came_back, rest=None if rest_stays else False, by=by, on=returned_on, at=at)
    record_of(loan, deed=Deed.LOAN_RETURNED, by=by, at=at, told=[["came back", returned_on.isoformat()]])
    return loan


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
    loan.guardian.school = horn.school
    with speaking(horn.school, loan.guardian.speaks):
        said = gettext("%(horn)s came back on %(day)s.")
        if loan.ended_as is Ended.LOST:
            said = gettext("The school recorded on %(day)s that %(horn)s is lost.")
        words = said % {"horn": horn, "day": day(on)}
    loan.asks.unanswered().update(answer=words, answered_at=at, answered_by=by)
    went_back(horn=horn, at=at)
    keep([horn])


def _ended_already(loan: Loan, horn: Horn) -> str:
    assert loan.returned_on is not None
    if loan.ended_as is Ended.LOST:
        said = _s("%(horn)s was lost on %(day)s. Who has found it records that on its page.")
    else:
        said = _s("%(horn)s came back on %(day)s, taken by %(by)s.")
    return said % {"horn": horn, "day": day(loan.returned_on), "by": loan.returned_to}


@transaction.atomic
def note_return(
    *,
    horn: Horn,
    came_back: Collection[str],
    finish_grade: int,
    words: str,
    sent_as: UUID | None = None,
    waited: timedelta = timedelta(),
    by: User,
    at: datetime,
) -> ReturnNote:
    """Notes that a horn came back, with which accessories and how it looks; the loan goes on until it is taken back.

    Sent again under the same `sent_as`, the note that is kept; one that `waited` for a connection was made so much
    before `at`. Raises Refused when the horn is not out, went out again since, or somebody noted it already.
    """
    horn = locked(horn)
    there = ReturnNote.objects.filter(sent_as=sent_as).select_related("loan").first() if sent_as else None
    if there is not None and (there.by_id, there.loan.horn_id) == (by.pk, horn.pk):
        return there
    if there is not None:
        raise Refused(_s("Note the return again: it cannot be kept from here."))
    loan = current_loan(horn)
    if loan is None:
        raise Refused(
            _s("%(horn)s is not out: %(whereabouts)s.") % {"horn": horn, "whereabouts": horn.whereabouts.words}
        )
    _refuse_earlier_return(loan, horn, timezone.localdate(at - waited))
    if loan.as_noted is not None:
        raise Refused(
            _s("%(by)s noted already that %(horn)s came back. Add what differs when you take it back.")
            % {"by": loan.as_noted.by, "horn": horn},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )
    seen = {"came_back": list(came_back), "finish_grade": finish_grade, "words": words.strip()}
    once = {"sent_as": sent_as, "at": at - waited, "received_at": at if waited else None}
    note = ReturnNote.objects.create(loan=loan, by=by, **seen, **once)
    record_of(loan, deed=Deed.RETURN_NOTED, by=by, at=at, told=[["noted", (at - waited).isoformat()]])
    keep([horn])
    return note


@transaction.atomic
def take_note_away(*, loan: Loan, by: User, at: datetime) -> None:
    """The note was about another horn: this one is waited for again. Raises Refused where there is none any more."""
    horn, loan = locked_while_running(loan)
    gone, _ = ReturnNote.objects.filter(loan=loan).delete()
    if not gone:
        raise Refused(_s("Nothing is noted of %(horn)s any more.") % {"horn": horn})
    record_of(loan, deed=Deed.RETURN_NOTE_GONE, by=by, at=at)
    keep([horn])


def _refuse_earlier_return(loan: Loan, horn: Horn, on: date) -> None:
    """Raises Refused where what was seen on that day may have been the end of the loan before."""
    before = last_ended(horn)
    that_day = before is not None and before.returned_on == loan.issued_on == on
    if on < loan.issued_on or that_day:
        raise Refused(
            _s("%(horn)s went out again on %(issued_on)s; what you noted may be about the loan before.")
            % {"horn": horn, "issued_on": day(loan.issued_on)},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )


@transaction.atomic
def record_mouthpiece_cleaned(*, loan: Loan, cleaned_on: date, by: User, at: datetime) -> Loan:
    """Records after a return that the mouthpiece was cleaned. Raises Refused where there is nothing to record."""
    horn = locked_by_key(loan.horn_id)
    loan = Loan.objects.select_related("mouthpiece_cleaned_by").get(pk=loan.pk)
    if loan.returned_on is None:
        raise Refused(
            _s("%(horn)s is still out; the mouthpiece is cleaned when it comes back.") % {"horn": horn},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )
    if loan.mouthpiece_cleaned_on is not None:
        when = day(loan.mouthpiece_cleaned_on)
        raise Refused(
            _s("%(mouthpiece_cleaned_by)s recorded already that it was cleaned on %(when)s.")
            % {"mouthpiece_cleaned_by": loan.mouthpiece_cleaned_by, "when": when}
        )
    latest = last_ended(horn)
    if latest is None or latest.pk != loan.pk:
        raise Refused(
            _s("%(horn)s has been out again since; record the cleaning after the latest loan.") % {"horn": horn}
        )
    _cleaning_day(cleaned_on, loan.returned_on, timezone.localdate(at))
    loan.mouthpiece_cleaned_on, loan.mouthpiece_cleaned_by = cleaned_on, by
    loan.save(update_fields=["mouthpiece_cleaned_on", "mouthpiece_cleaned_by"])
    keep([horn])
    return loan


def _cleaning_day(cleaned_on: date, returned_on: date, today: date) -> None:
    if cleaned_on < returned_on:
        raise Refused(
            _s("The horn came back on %(returned_on)s; clean the mouthpiece after that.")
            % {"returned_on": day(returned_on)}
        )
    if cleaned_on > today:
        raise Refused(
            _s("The mouthpiece cannot have been cleaned on %(cleaned_on)s: that day has not come yet.")
            % {"cleaned_on": day(cleaned_on)}
        )


@transaction.atomic
def lose(*, loan: Loan, words: str, by: User, at: datetime) -> Loan:
    """Ends the loan of a horn that was lost in the family's hands; the register holds it as not found from now on.

    Found again, its mouthpiece is cleaned before anybody else plays it. Raises Refused when the loan has ended or
    nobody says what happened.
    """
    horn, loan = locked_while_running(loan)
    words = words.strip()
    if not words:
        raise Refused(_s("Say in a few words how it was lost."))
    loan.lost_words = words
    end(loan, horn=horn, came_back=(), rest=False, by=by, on=timezone.localdate(at), at=at)
    change_standing(horn=horn, kind=Standing.Kind.NOT_FOUND, reason=words, by=by, at=at, on=loan.returned_on)
    record_of(loan, deed=Deed.LOAN_LOST, by=by, at=at, told=[["words", words]])
    return loan
