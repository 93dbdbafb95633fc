"""Another horn in exchange for the one that is out, under the same agreement."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day
from fleet.lending.actions.issuing import begin, on_one_sheet
from fleet.lending.actions.returning import give_back
from fleet.lending.actions.running import locked_while_running, record_of, refuse_leaver
from fleet.lending.models import FamilyAsk, Loan
from fleet.people.models import User
from fleet.record.models import Deed
from fleet.register.actions.locking import locked_all
from fleet.register.models import Horn
from fleet.workshop.actions.jobs import note_stand_in
from fleet.workshop.models import ConditionCheck
from fleet.workshop.queries.condition import latest_check


@transaction.atomic
def swap(
    *,
    loan: Loan,
    to: Horn,
    came_back: Collection[int],
    look_over: Callable[[Horn], ConditionCheck],
    mouthpiece_cleaned_on: date | None,
    notes: str,
    by: User,
    at: datetime,
    goes_along: Sequence[str] = (),
) -> Loan:
    """Another horn in exchange, until the same due date, under the agreement that is signed already.

    `came_back` holds keys of the accessories that came back with the first horn; the others stay with the pupil
    and go on with the second loan, as does what `goes_along` with the second horn. Raises Refused when the loan has
    ended or is overdue, or the second horn may not be lent.
    """
    # Both rows in one order, so that two swaps the other way round wait for each other instead of for ever.
    to = locked_all([loan.horn_id, to.pk])[to.pk]
    _, loan = locked_while_running(loan)
    if to.school_id != loan.horn.school_id:
        raise Refused(_s("That horn belongs to another school."))
    today = timezone.localdate(at)
    if loan.days_over(today):
        refuse_leaver(loan, today)
        raise Refused(
            _s("It was due back on %(due_on)s. Renew it first; then it can be swapped.") % {"due_on": day(loan.due_on)},
            way_out=WayOut("loans:renew", _s("Renew it"), (loan.pk,)),
        )
    for reason in to.kept_back:
        raise Refused(reason.sentence)
    check = latest_check(to)
    assert check is not None, "a horn never checked is kept back"
    staying = [thing.name for thing in loan.accessories.all() if thing.pk not in came_back]
    names = on_one_sheet([*staying, *goes_along])
    longer = list(loan.asks.unanswered().filter(kind=FamilyAsk.Kind.RENEW).values_list("pk", flat=True))
    old = give_back(
        loan=loan,
        returned_on=timezone.localdate(at),
        came_back=came_back,
        look_over=look_over,
        mouthpiece_cleaned_on=mouthpiece_cleaned_on,
        notes=notes,
        by=by,
        at=at,
        rest_stays=True,
    )
    note_stand_in(horn=old.horn, stand_in=to, by=by, at=at)
    goes_on = ("pupil", "guardian", "agreement", "from_list", "signed_on", "language", "due_on")
    new = Loan(in_place_of=old, **{name: getattr(loan, name) for name in goes_on})
    begin(new, horn=to, check=check, accessories=names, by=by, on=timezone.localdate(at))
    record_of(new, deed=Deed.LOAN_SWAPPED, by=by, at=at, told=[["horn", str(old.horn), str(to)]])
    # To keep it longer is asked of the loan that goes on.
    FamilyAsk.objects.filter(pk__in=longer).update(loan=new, answer="", answered_at=None, answered_by=None)
    return new
