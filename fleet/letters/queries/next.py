"""When letters last went out, and what goes next: for the page, so that nobody has to trust a schedule unseen."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice

from django.db.models import Max, Q, Subquery
from django.utils import timezone

from fleet.ground.fields import days_in
from fleet.letters.models import LendingRules, Letter
from fleet.letters.queries.due import due_letters, unwritten, written
from fleet.letters.queries.rules import rules_of
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.signing.models import OnlineSignature


@dataclass(frozen=True, slots=True)
class Next:
    """`now` letters are due and have not gone; the next ones, `then` of them, fall due on `day`. To those named in
    `without`, who have no address, letters are due too. `more`: there are more letters, maybe names too."""

    goes_out: bool
    last: datetime | None
    now: int
    day: date | None
    then: int
    without: list[str]
    more: bool = False


def next_letters(school: School, at: datetime, *, count_to: int = sys.maxsize) -> Next:
    """Of a school that sends no letters nothing is due; loans are looked at until `count_to` have a letter to get.

    Ten queries, however many loans there are.
    """
    rules, today = rules_of(school), timezone.localdate(at)
    last = Letter.objects.at(school).aggregate(last=Max("sent_at"))["last"]
    if not rules.reminds:
        return Next(False, last, 0, None, 0, [])
    made = (
        Letter.objects.at(school)
        .filter(state=Letter.State.WAITING)
        .select_related("guardian", "signature__horn", "signature__pupil")
    )
    # One about what cannot be signed now waits on.
    made = made.filter(Q(signature=None) | Q(signature__in=OnlineSignature.objects.at(school).standing(today)))
    to = [one.guardian for one in made if one.signature is None or one.signature.can_be_lent]
    due = (loan.guardian for loan, occasion in due_letters(school, rules, today) if written(loan, occasion) is None)
    to += islice(due, count_to)
    more = next(due, None) is not None
    to += [one.guardian for one in unwritten(school, today)]
    without = sorted({one.name for one in to if not one.email})
    day, then = _coming(school, rules, today)
    return Next(True, last, sum(bool(one.email) for one in to), day, then, without, more)


def _coming(school: School, rules: LendingRules, today: date) -> tuple[date | None, int]:
    """The next day on which letters about open loans fall due, None where none does, and how many loans they are about.
    Three queries, along the due days: other days are not counted, and no horn of that one is read."""
    before, after = days_in(rules.days_before), days_in(rules.days_after)
    later = [timedelta(days=days) for days in (*(-one for one in before), *after)]
    out = Horn.objects.at(school).order_by("due_on").values("due_on")
    awaited = out.filter(noted_back=False)
    firsts = [Subquery(awaited.filter(due_on__gt=today - one)[:1]) for one in later]
    told = School.objects.values_list(*firsts).get(pk=school.pk)
    day = min((first + one for first, one in zip(told, later, strict=True) if first), default=None)
    if day is None:
        return None, 0
    due = [day - one for one in later]
    then = out.filter(due_on__in=due)
    # So each is counted along its index, and no row is read.
    return day, then.count() - then.filter(noted_back=True).count()
