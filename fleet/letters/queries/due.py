"""Which letters are due."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from fleet.ground.due import near
from fleet.ground.fields import days_in
from fleet.lending.models import Loan, LoanPeriod
from fleet.letters.models import LendingRules, Letter
from fleet.people.models import School
from fleet.signing.models import OnlineSignature


def due_letters(school: School, rules: LendingRules, today: date) -> Iterator[tuple[Loan, str]]:
    """(loan, occasion) for each loan that has a letter to get by today: the newest occasion only. Three queries."""
    before, after = days_in(rules.days_before), days_in(rules.days_after)
    recalled = Exists(LoanPeriod.objects.filter(loan=OuterRef("pk"), kind=LoanPeriod.Kind.RECALLED))
    # What is here, for repair or noted as back, nobody can bring back.
    loans = (
        Loan.objects.at(school)
        .awaited()
        .filter(horn__on_bench=False)
        .filter(near("due_on", today, max(before, default=0)) | Q(recalled))
    )
    loans = loans.select_related("guardian").prefetch_related("periods", "letters")
    # A few at a time: who only counts may stop after fifty.
    for loan in loans.order_by("due_on", "pk").iterator(chunk_size=60):
        occasion = occasion_of(loan, before, after, today)
        if occasion:
            yield loan, occasion


def written(loan: Loan, occasion: str) -> Letter | None:
    """The letter that this loan, with its letters fetched, has about its due day on this occasion."""
    return next((one for one in loan.letters.all() if (one.occasion, one.due_on) == (occasion, loan.due_on)), None)


def unwritten(school: School, today: date) -> list[OnlineSignature]:
    """Agreements that wait to be signed and may be still, and whose guardian has no letter about it. One query."""
    waiting = OnlineSignature.objects.at(school).waiting().standing(today).filter(letters=None)
    asked = waiting.select_related("guardian", "horn", "pupil").order_by("pk")
    return [one for one in asked if one.can_be_lent]


def occasion_of(loan: Loan, before: list[int], after: list[int], today: date) -> str:
    """The newest letter this loan should have had by today, "" for none.

    What would have been due before the loan began, or before its due date was moved, is not sent afterwards.
    """
    periods = list(loan.periods.all())
    since = max([loan.issued_on, *(timezone.localdate(one.at) for one in periods)])
    days = [(loan.due_on - timedelta(days=one), f"before-{one}") for one in before]
    days += [(loan.due_on + timedelta(days=one), f"after-{one}") for one in after]
    come = [(when, occasion) for when, occasion in days if since < when <= today]
    if loan.recall is not None:
        come.append((since, "recalled"))
    return max(come)[1] if come else ""
