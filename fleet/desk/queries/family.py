"""What an account that answers for pupils may see: their loans, and what waits for its signature."""

from __future__ import annotations

from typing import cast

from django.db.models import Q
from django.http import Http404, HttpRequest

from fleet.lending.models import Loan, LoanPeriod, LoanQuerySet
from fleet.people.models import Guardian, User
from fleet.signing.models import OnlineSignature, OnlineSignatureQuerySet


def own_loans(request: HttpRequest) -> LoanQuerySet:
    """Open loans of the pupils this account answers for; 404 for somebody who answers for nobody."""
    user = cast(User, request.user)
    if not Guardian.objects.filter(user=user).exists():
        raise Http404("Not a guardian.")
    loans = Loan.objects.open().answered_for_by(user)
    return loans.select_related("horn__school", "pupil", "in_place_of").order_by("pupil__name", "pk")


def own_signatures(request: HttpRequest) -> OnlineSignatureQuerySet:
    """What was put before this account to sign, taken back or not."""
    mine = OnlineSignature.objects.filter(guardian__user=cast(User, request.user))
    return mine.select_related("horn__school", "pupil", "guardian", "agreement")


def recalled(loan: Loan) -> LoanPeriod | None:
    """The recall, while it is what set the due date in force."""
    newest = loan.periods.order_by("at", "pk").last()
    return newest if newest is not None and newest.kind == LoanPeriod.Kind.RECALLED else None


def reported_under(loan: Loan) -> Q:
    """Reports on the horn since it went out, and on those it was swapped in for, which are the ones to be mended."""
    found = Q()
    swapped: Loan | None = loan
    while swapped is not None:
        found |= Q(horn=swapped.horn_id, at__date__gte=swapped.issued_on)
        swapped = swapped.in_place_of
    return found
