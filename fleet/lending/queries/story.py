"""What lending has to tell of a horn's life: loans from their issue to what was settled last, past loans."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any

from django.db.models import Case, OuterRef, Prefetch, Q, Subquery, When
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _s

from fleet.ground.wording import day
from fleet.lending.models import Ended, Loan, LoanAccessory, LoanPeriod, LoanQuerySet, PastLoan
from fleet.register.models import Standing
from fleet.register.queries.story import StoryLine, StoryPart

# Between two lines of a story that stand in one moment.
MOMENT = timedelta(microseconds=1)


def _of_loan(loan: Loan) -> Iterator[StoryLine]:
    """Issued, due dates moved, returned, cleaned, missing things settled.

    Loans know days, not hours: an issue stands at the end of its day, after the check it needed, an end where its
    check or its loss was told, so that a horn that comes back goes out again after that.
    """
    link = ("loans:loan", loan.pk)
    periods = list(loan.periods.all())
    first_due = periods[0].due_before if periods else loan.due_on
    sentence = _s("Lent to %(pupil)s, due back on %(first_due)s.") % {"pupil": loan.pupil, "first_due": day(first_due)}
    over = _over(loan)
    out = min(_at(loan.issued_on, 1), over - MOMENT) if over else _at(loan.issued_on, 1)
    yield StoryLine(out, "issue", sentence, str(loan.issued_by), link)
    for period in periods:
        sentence = _s("%(moved)s: due back on %(due_on)s.") % {
            "moved": capfirst(period.get_kind_display()),
            "due_on": day(period.due_on),
        }
        yield StoryLine(period.at, period.kind, sentence, str(period.by), link)
    if over is None:
        return
    yield StoryLine(over, "return", _ending(loan), str(loan.returned_to), link)
    if loan.mouthpiece_cleaned_on is not None:
        cleaned = max(_at(loan.mouthpiece_cleaned_on, 0), over + MOMENT)
        yield StoryLine(cleaned, "cleaning", _s("Mouthpiece cleaned."), str(loan.mouthpiece_cleaned_by), link)
    for thing in loan.accessories.all():
        if thing.settled_on is not None:
            sentence = _s("Missing %(thing)s %(settled_as)s.") % {
                "thing": thing,
                "settled_as": thing.get_settled_as_display(),
            }
            yield StoryLine(_at(thing.settled_on, 3), "settled", sentence, str(thing.settled_by), link)


def _of_past_loan(past: PastLoan) -> Iterator[StoryLine]:
    said = {"pupil": past.pupil, "returned_on": day(past.returned_on)}
    sentence = _s("Was with %(pupil)s until %(returned_on)s, as an older list says.") % said
    yield StoryLine(_at(past.issued_on, 1), "issue", sentence)


def _over(loan: Loan) -> datetime | None:
    """When the loan ended: as its check says, or the loss, where they are of that day; else at the day's end."""
    if loan.returned_on is None:
        return None
    told: datetime | None = loan.check_at_return.at if loan.check_at_return else loan.gone_at  # type: ignore[attr-defined]
    if told is None or timezone.localdate(told) != loan.returned_on:
        return _at(loan.returned_on, 2)
    return told + MOMENT


def _ending(loan: Loan) -> str:
    if loan.ended_as is Ended.LOST:
        return _s("Lost while %(pupil)s had it.") % {"pupil": loan.pupil}
    if loan.goes_on_as is not None:
        return _s("Swapped: %(pupil)s got %(horn)s instead.") % {"pupil": loan.pupil, "horn": loan.goes_on_as.horn}
    missing = ", ".join(str(one) for one in loan.accessories.all() if one.came_back is False)
    if missing:
        return _s("Came back from %(pupil)s without %(missing)s.") % {"pupil": loan.pupil, "missing": missing}
    return _s("Came back from %(pupil)s, complete.") % {"pupil": loan.pupil}


def _at(when: datetime | object, place: int) -> datetime:
    moment = datetime.combine(when, time(23, 59, 50)) + timedelta(seconds=place)  # type: ignore[arg-type]
    return timezone.make_aware(moment)


def _loans() -> LoanQuerySet:
    related = ("pupil", "issued_by", "returned_to", "mouthpiece_cleaned_by", "check_at_return")
    gone = Standing.objects.filter(horn=OuterRef("horn"), kind=Standing.Kind.NOT_FOUND, on=OuterRef("returned_on"))
    lost = Case(When(~Q(lost_words=""), then=Subquery(gone.order_by("pk").values("at")[:1])))
    return Loan.objects.select_related(*related).annotate(gone_at=lost)


def _along() -> tuple[Prefetch[Any], ...]:
    return (
        Prefetch("replaced_by", Loan.objects.select_related("horn")),
        Prefetch("accessories", LoanAccessory.objects.select_related("settled_by")),
        Prefetch("periods", LoanPeriod.objects.select_related("by")),
    )


STORY = (
    StoryPart(_loans, _of_loan, along=_along),
    StoryPart(lambda: PastLoan.objects.select_related("pupil"), _of_past_loan),
)
