"""What was put before families, on their page or on paper, and no loan came of yet."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Unpack

from fleet.lending.queries.new_year import RENEW, NewYear
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature, OnlineSignatureQuerySet, Proposed, SheetOut, Terms


def waiting_for(horn: Horn) -> OnlineSignature | None:
    """What is on a family's page for this horn, signed or not, and no loan came of yet. One query."""
    found = OnlineSignature.objects.unused().filter(horn=horn).select_related("guardian", "horn", "pupil")
    return found.first()


def can_be_signed(one: OnlineSignature, today: date) -> bool:
    """Whether the family would not be refused, were it not signed yet. One query."""
    return one.can_be_lent and OnlineSignature.objects.filter(pk=one.pk).standing(today).exists()


def of_horns(school: School, horns: Collection[int] | None = None) -> dict[int, OnlineSignature]:
    """What was put before a guardian for these horns, or any of the school's, and no loan came of yet, by horn. One
    query."""
    found = OnlineSignature.objects.at(school).unused()
    if horns is not None:
        found = found.filter(horn__in=horns)
    return {one.horn_id: one for one in found.select_related(*Proposed.SAID_OF)}


def sheets_of(horns: Collection[int]) -> list[SheetOut]:
    """Sheets of these horns that are not put away, those printed first before the others. One query."""
    found = SheetOut.objects.not_put_away().filter(horn__in=horns).select_related(*Proposed.SAID_OF, "printed_by")
    return list(found.order_by("printed_at", "pk"))


def sheet_at_home(**terms: Unpack[Terms]) -> SheetOut | None:
    """The sheet that is out for exactly this loan. One query."""
    return next((one for one in sheets_of([terms["horn"].pk]) if one.is_for(**terms)), None)


def page_at_home(**terms: Unpack[Terms]) -> OnlineSignature | None:
    """What was put before the guardian for exactly this loan, signed or not. One query."""
    found = OnlineSignature.objects.unused().filter(horn=terms["horn"], pupil=terms["pupil"])
    one = found.select_related("agreement", "guardian").first()
    return one if one is not None and one.is_for(**terms) else None


def loans_at_home(school: School) -> int:
    """How many loans lie with families to be signed, on paper or on their page. Two queries."""
    paper, page = SheetOut.objects.at(school).out(), OnlineSignature.objects.at(school).unused()
    return len({*paper.values_list("horn", "pupil"), *page.values_list("horn", "pupil")})


def until_old_end(year: NewYear, today: date) -> OnlineSignatureQuerySet:
    """What pupils of classes whose loans a new school year renews are asked for until an earlier day, and could sign
    and have not."""
    pupils = [pupil.pk for one in year.classes if one.wish.loans == RENEW for pupil in one.pupils]
    return OnlineSignature.objects.waiting().standing(today).filter(pupil__in=pupils, due_on__lt=year.until)
