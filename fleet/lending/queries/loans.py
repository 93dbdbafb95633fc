"""The loan a horn is out on, the one that ended last, and what went along."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import BooleanField, ExpressionWrapper, Prefetch, Q

from fleet.lending.models import Loan, LoanAccessory
from fleet.people.models import School
from fleet.register.models import Horn


def current_loan(horn: Horn) -> Loan | None:
    """The loan the horn is out on, with its pupil and guardian."""
    return horn.loans.open().select_related("pupil", "guardian").first()


def spoken_at_home(horn: Horn) -> str:
    """The language of the guardian who signed for the horn while it is out, else the school's own. One query."""
    loan = horn.loans.open().select_related("guardian__school").first()
    return loan.guardian.speaks if loan else horn.school.language


def has_now() -> Prefetch[Any]:
    """To fetch beside pupils: their open loans with the horns, as `has_now`."""
    return Prefetch("loans", Loan.objects.open().select_related("horn"), to_attr="has_now")


def last_ended(horn: Horn) -> Loan | None:
    return horn.loans.ended().order_by("-returned_on", "-pk").first()


def along_with(school: School) -> dict[int, list[str]]:
    """What went along with each horn the last time it was lent, by the horn's key, less what was lost since, but not
    together with it. One query."""
    together = Q(~Q(loan__lost_words=""), ~Q(loan__horn__not_found_on=None))
    gone = ExpressionWrapper(together, output_field=BooleanField())
    things = LoanAccessory.objects.at(school).annotate(gone=gone).order_by("loan__issued_on", "loan", "pk")
    newest: dict[int, tuple[int, list[str]]] = {}
    for horn, loan, name, came_back, settled, with_horn in things.values_list(
        "loan__horn", "loan", "name", "came_back", "settled_as", "gone"
    ):
        if newest.get(horn, (0,))[0] != loan:
            newest[horn] = (loan, [])
        there = {LoanAccessory.Settled.CAME_LATER, LoanAccessory.Settled.REPLACED}
        if with_horn or came_back is not False or settled in there:
            newest[horn][1].append(name)
    return {horn: names for horn, (_, names) in newest.items()}


def last_ended_of(horns: Iterable[int]) -> dict[int, Loan]:
    """`last_ended` of many horns by their keys, all in one query; horns never lent are left out."""
    ended = Loan.objects.ended().filter(horn__in=list(horns)).select_related("replaced_by")
    ended = ended.order_by("returned_on", "pk")
    return {loan.horn_id: loan for loan in ended}
