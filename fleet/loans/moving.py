"""What happens to a loan while it runs: renewed, recalled, swapped, lost; and money owed for it.

As in `actions`, each is one transaction that locks the horn's row first, so that a return, a renewal and a
reminder of the same loan never pass each other unseen.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from fleet.loans.actions import MOST_ACCESSORIES, begin, end, give_back, once_each
from fleet.loans.lending import day, why_not
from fleet.loans.models import Charge, FamilyAsk, Loan, LoanPeriod
from fleet.people.models import User
from fleet.refused import Refused
from fleet.register.actions import change_standing
from fleet.register.models import Horn, Standing
from fleet.workshop.condition import latest_check
from fleet.workshop.jobs import note_stand_in
from fleet.workshop.models import ConditionCheck

# An account number in the reason for a charge would sit in a table that is no place for it.
BANK_DATA = re.compile(r"\b[A-Z]{2}\d{2}(?: ?[A-Z0-9]){11,}|\d(?:[ -]?\d){10,}", re.IGNORECASE)


@transaction.atomic
def renew(*, loan: Loan, due_on: date, due_seen: date, reason: str, by: User, at: datetime) -> LoanPeriod:
    """A new period of the loan, until a later day. `due_seen` is the due date the person had before them.

    Raises Refused when the loan has ended, the date was moved by somebody else, or the new one is no later.
    """
    horn, loan = _running_until(loan, due_seen)
    if due_on <= loan.due_on:
        raise Refused(f"It is due on {day(loan.due_on)} already. A renewal ends later than that.")
    if due_on < timezone.localdate(at):
        raise Refused(f"{day(due_on)} is in the past.")
    if horn.grade == Horn.Grade.WITHDRAW:
        raise Refused(f"{horn} must not be played: it comes back, it is not renewed.")
    return _moved(horn, loan, LoanPeriod.Kind.RENEWED, due_on, reason, by, at)


@transaction.atomic
def recall(*, loan: Loan, due_on: date, due_seen: date, reason: str, by: User, at: datetime) -> LoanPeriod:
    """The school wants the horn sooner; the guardian is told why by the next letters.

    Raises Refused when the loan has ended, the date was moved by somebody else, or the new one is no sooner.
    """
    horn, loan = _running_until(loan, due_seen)
    if due_on >= loan.due_on:
        raise Refused(f"It is due on {day(loan.due_on)} anyway. A recall asks for it sooner.")
    if due_on < timezone.localdate(at):
        raise Refused(f"{day(due_on)} is in the past.")
    if not reason.strip():
        raise Refused("Say why, so that the family understands.")
    return _moved(horn, loan, LoanPeriod.Kind.RECALLED, due_on, reason, by, at)


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
    locked = {
        one.pk: one for one in Horn.objects.select_for_update().filter(pk__in=[loan.horn_id, to.pk]).order_by("pk")
    }
    to = locked[to.pk]
    _, loan = _running(loan)
    if to.school_id != loan.horn.school_id:
        raise Refused("That horn belongs to another school.")
    if loan.due_on < timezone.localdate(at):
        raise Refused(
            f"It was due back on {day(loan.due_on)}. Renew it first; then it can be swapped.",
            way_out=("loans:renew", "Renew it"),
        )
    refused = why_not(to)
    if refused is not None:
        raise Refused(refused.sentence)
    check = latest_check(to)
    if check is None:
        raise Refused(f"{to} has never been checked.")
    staying = [thing.name for thing in loan.accessories.all() if thing.pk not in came_back]
    names = once_each([*staying, *goes_along])
    if len(names) > MOST_ACCESSORIES:
        raise Refused(f"A loan sheet has room for {MOST_ACCESSORIES} accessories; put small things under one name.")
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
    goes_on = ("pupil", "guardian", "agreement", "signed_on", "due_on")
    new = Loan(in_place_of=old, **{name: getattr(loan, name) for name in goes_on})
    begin(new, horn=to, check=check, accessories=names, by=by, on=timezone.localdate(at))
    # To keep it longer is asked of the loan that goes on.
    FamilyAsk.objects.filter(pk__in=longer).update(loan=new, answer="", answered_at=None, answered_by=None)
    return new


@transaction.atomic
def lose(*, loan: Loan, words: str, by: User, at: datetime) -> Loan:
    """Ends the loan of a horn that was lost in the family's hands; the register holds it as not found from now on.

    Found again, it is looked over, and its mouthpiece cleaned, before anybody else plays it. Raises Refused when
    the loan has ended or nobody says what happened.
    """
    horn, loan = _running(loan)
    words = words.strip()
    if not words:
        raise Refused("Say in a few words how it was lost.")
    loan.lost_words = words
    end(loan, horn=horn, came_back=(), rest=False, by=by, on=timezone.localdate(at), at=at)
    reason = f"Lost while on loan: {words}"[:300]
    change_standing(horn=horn, kind=Standing.Kind.NOT_FOUND, reason=reason, by=by, at=at, on=loan.returned_on)
    return loan


@transaction.atomic
def charge(*, loan: Loan, what: str, amount: Decimal, due_on: date, by: User, at: datetime) -> Charge:
    """Money owed for a loan, in the school's currency. Raises Refused for nothing, too much, or bank data."""
    what = " ".join(what.split())
    if not what:
        raise Refused("Say what the charge is for.")
    if not Decimal(0) < amount < Decimal(1_000_000):
        raise Refused("A charge is more than nothing and less than a million.")
    if BANK_DATA.search(what):
        raise Refused("That looks like an account or card number. It is not kept here.")
    currency = loan.horn.school.currency
    return Charge.objects.create(
        loan=loan, what=what, amount=amount, currency=currency, due_on=due_on, made_at=at, made_by=by
    )


@transaction.atomic
def settle(*, charge: Charge, state: str, by: User, at: datetime) -> Charge:
    """The charge is paid or remitted. Raises Refused when it was settled before."""
    charge = Charge.objects.select_for_update(of=("self",)).select_related("settled_by").get(pk=charge.pk)
    if charge.state != Charge.State.DUE and charge.settled_on is not None:
        raise Refused(f"It was {charge.state} on {day(charge.settled_on)}, recorded by {charge.settled_by}.")
    if state not in {Charge.State.PAID, Charge.State.REMITTED}:
        raise Refused("Say whether it was paid or remitted.")
    charge.state, charge.settled_on, charge.settled_by = state, timezone.localdate(at), by
    charge.save(update_fields=["state", "settled_on", "settled_by"])
    return charge


@transaction.atomic
def ask(*, loan: Loan, kind: str, words: str, by: User, at: datetime) -> FamilyAsk:
    """What a guardian wants of the school. Raises Refused when the loan has ended or the school has it already."""
    _, loan = _running(loan)
    if loan.asks.unanswered().filter(kind=kind).exists():
        raise Refused("The school has this already and will answer here.")
    return FamilyAsk.objects.create(loan=loan, kind=kind, words=words.strip(), by=by, at=at)


@transaction.atomic
def answer(*, ask: FamilyAsk, words: str, by: User, at: datetime) -> FamilyAsk:
    """Tells the family what comes of it. Raises Refused without words and when it was answered before."""
    ask = FamilyAsk.objects.select_for_update(of=("self",)).select_related("answered_by").get(pk=ask.pk)
    if ask.answered_at is not None:
        raise Refused(f"{ask.answered_by} has answered: {ask.answer}")
    if not words.strip():
        raise Refused("Write what the family will read.")
    ask.answer, ask.answered_at, ask.answered_by = words.strip(), at, by
    ask.save(update_fields=["answer", "answered_at", "answered_by"])
    return ask


def _running(loan: Loan) -> tuple[Horn, Loan]:
    """The locked horn and the loan as it is now; Refused when it has ended."""
    horn = Horn.objects.select_for_update().get(pk=loan.horn_id)
    loan = Loan.objects.select_related("horn__school", "pupil", "guardian", "agreement").get(pk=loan.pk)
    if loan.returned_on is not None:
        raise Refused(f"This loan ended on {day(loan.returned_on)}.")
    return horn, loan


def _running_until(loan: Loan, due_seen: date) -> tuple[Horn, Loan]:
    """As `_running`; Refused too when the due date is no longer the one the person had before them."""
    horn, loan = _running(loan)
    if loan.due_on != due_seen:
        raise Refused(f"Somebody moved the due date to {day(loan.due_on)} meanwhile. Look again.")
    return horn, loan


def _moved(horn: Horn, loan: Loan, kind: str, due_on: date, reason: str, by: User, at: datetime) -> LoanPeriod:
    period = LoanPeriod.objects.create(
        loan=loan, kind=kind, due_before=loan.due_on, due_on=due_on, reason=reason.strip(), at=at, by=by
    )
    loan.due_on = horn.due_on = due_on
    loan.save(update_fields=["due_on"])
    horn.save(update_fields=["due_on"])
    if kind == LoanPeriod.Kind.RENEWED:
        words = f"Yes: it is due back on {day(due_on)} now."
        loan.asks.unanswered().filter(kind=FamilyAsk.Kind.RENEW).update(answer=words, answered_at=at, answered_by=by)
    return period
