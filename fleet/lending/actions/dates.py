"""Due dates that move: a loan is renewed or recalled.

Each is one transaction that locks the horn's row first, so that a return, a renewal and a reminder of the same
loan never pass each other unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused, WayOut
from fleet.ground.wording import day
from fleet.lending.actions.running import locked_while_running, record_of, refuse_leaver
from fleet.lending.models import FamilyAsk, Loan, LoanPeriod
from fleet.people.models import User
from fleet.people.queries.own_words import speaking
from fleet.record.models import Deed
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn


@transaction.atomic
def renew(*, loan: Loan, due_on: date, due_seen: date, reason: str, by: User, at: datetime) -> LoanPeriod:
    """A new period of the loan, until a later day. `due_seen` is the due date the person had before them.

    Raises Refused when the loan has ended, the date was moved by somebody else, the new one is no later or the
    pupil has left the school.
    """
    horn, loan = _running_until(loan, due_seen)
    refuse_leaver(loan, timezone.localdate(at))
    if no := loan.not_later(due_on):
        raise Refused(no)
    if due_on < timezone.localdate(at):
        raise Refused(_s("%(due_on)s is in the past.") % {"due_on": day(due_on)})
    if horn.grade == Horn.Grade.MUST_NOT_BE_PLAYED:
        raise Refused(_s("%(horn)s must not be played: it comes back, it is not renewed.") % {"horn": horn})
    return _moved(horn, loan, LoanPeriod.Kind.RENEWED, due_on, reason, by, at)


@transaction.atomic
def recall(*, loan: Loan, due_on: date, due_seen: date, reason: str, by: User, at: datetime) -> LoanPeriod:
    """The school wants the horn sooner; the guardian is told why by the next letters.

    Raises Refused when the loan has ended, the date was moved by somebody else, or the new one is no sooner.
    """
    horn, loan = _running_until(loan, due_seen)
    if no := loan.not_sooner(due_on):
        raise Refused(no)
    if due_on < timezone.localdate(at):
        raise Refused(_s("%(due_on)s is in the past.") % {"due_on": day(due_on)})
    if not reason.strip():
        raise Refused(_s("Say why, so that the family understands."))
    if horn.noted_back:
        raise Refused(
            _s("%(horn)s is noted as back, so nobody need bring it.") % {"horn": horn},
            way_out=WayOut("loans:return", _s("Take it back"), (loan.pk,)),
        )
    return _moved(horn, loan, LoanPeriod.Kind.RECALLED, due_on, reason, by, at)


def _running_until(loan: Loan, due_seen: date) -> tuple[Horn, Loan]:
    """As `locked_while_running`; Refused too when the due date is no longer the one the person had before them."""
    horn, loan = locked_while_running(loan)
    if loan.due_on != due_seen:
        raise Refused(
            _s("Somebody moved the due date to %(due_on)s meanwhile. Look again.") % {"due_on": day(loan.due_on)}
        )
    return horn, loan


def _moved(
    horn: Horn, loan: Loan, kind: LoanPeriod.Kind, due_on: date, reason: str, by: User, at: datetime
) -> LoanPeriod:
    deed = Deed.LOAN_RENEWED if kind == LoanPeriod.Kind.RENEWED else Deed.LOAN_RECALLED
    told = [["due", loan.due_on.isoformat(), due_on.isoformat()], ["reason", reason.strip()]]
    record_of(loan, deed=deed, by=by, at=at, told=told)
    (period,) = move_together(loans=[loan], kind=kind, due_on=due_on, reason=reason, by=by, at=at)
    keep([horn])
    return period


def move_together(
    *, loans: Sequence[Loan], kind: LoanPeriod.Kind, due_on: date, reason: str, by: User, at: datetime
) -> list[LoanPeriod]:
    """A new period of each of these loans, until one day. The caller holds their horns, has looked that each may be
    moved there, keeps the horns and records what was done."""
    moved = LoanPeriod.objects.bulk_create(
        LoanPeriod(loan=loan, kind=kind, due_before=loan.due_on, due_on=due_on, reason=reason.strip(), at=at, by=by)
        for loan in loans
    )
    for loan in loans:
        loan.due_on = due_on
    Loan.objects.bulk_update(loans, ["due_on"], batch_size=100)
    if kind == LoanPeriod.Kind.RENEWED:
        _answer_asked(loans, due_on, by, at)
    return moved


def _answer_asked(loans: Sequence[Loan], due_on: date, by: User, at: datetime) -> None:
    """To each family that asked to keep it longer, in its language."""
    asked = FamilyAsk.objects.unanswered().filter(loan__in=loans, kind=FamilyAsk.Kind.RENEW)
    answered = list(asked.select_related("loan__guardian__school"))
    for one in answered:
        with speaking(one.loan.guardian.school, one.loan.guardian.speaks):
            one.answer = gettext("Yes: it is due back on %(due_on)s now.") % {"due_on": day(due_on)}
        one.answered_at, one.answered_by = at, by
    FamilyAsk.objects.bulk_update(answered, ["answer", "answered_at", "answered_by"], batch_size=100)
