"""What families ask about a loan that runs, and what the school answers."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.refusal import Refused
from fleet.lending.actions.running import locked_while_running, refuse_leaver
from fleet.lending.models import FamilyAsk, Loan
from fleet.people.models import User


@transaction.atomic
def ask(*, loan: Loan, kind: str, words: str, by: User, at: datetime) -> FamilyAsk:
    """What a guardian wants. Refused when the loan has ended, the school has it, or a leaver asks for longer."""
    _, loan = locked_while_running(loan)
    if kind == FamilyAsk.Kind.RENEW:
        refuse_leaver(loan, timezone.localdate(at))
    if loan.asks.unanswered().filter(kind=kind).exists():
        raise Refused(gettext("The school has this already and will answer here."))
    return FamilyAsk.objects.create(loan=loan, kind=kind, words=words.strip(), by=by, at=at)


@transaction.atomic
def take_back_ask(*, ask: FamilyAsk, by: User, at: datetime) -> FamilyAsk:
    """Who asked does not ask any more: it is kept longer no more, or it was found. Refused once it was answered, and to
    anybody else."""
    ask = FamilyAsk.objects.select_for_update(of=("self",)).get(pk=ask.pk)
    if ask.by_id != by.pk or ask.answered_at is not None:
        raise Refused(gettext("The school has answered meanwhile."))
    ask.answered_at, ask.answered_by = at, by
    ask.save(update_fields=["answered_at", "answered_by"])
    return ask


@transaction.atomic
def answer(*, ask: FamilyAsk, words: str, by: User, at: datetime) -> FamilyAsk:
    """Tells the family what comes of it. Raises Refused without words and when it was answered before."""
    ask = FamilyAsk.objects.select_for_update(of=("self",)).select_related("answered_by").get(pk=ask.pk)
    if ask.answered_at is not None:
        raise Refused(
            _s("%(answered_by)s has answered: %(answer)s") % {"answered_by": ask.answered_by, "answer": ask.answer}
        )
    if not words.strip():
        raise Refused(_s("Write what the family will read."))
    ask.answer, ask.answered_at, ask.answered_by = words.strip(), at, by
    ask.save(update_fields=["answer", "answered_at", "answered_by"])
    return ask
