"""What lending has to tell of horns: its share of what is kept on them, and the time line of one."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django.db.models import BooleanField, ExpressionWrapper, OuterRef, Prefetch, Q, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.ground.wording import day
from fleet.lending.models import Loan, LoanPeriod
from fleet.register.models import Horn
from fleet.register.queries.told import StoryLine


def story(horn: Horn) -> list[StoryLine]:
    """Issues, moved due dates, returns and cleanings, newest first. Four queries, however long the story.

    Loans know days, not hours: an issue stands at the end of its day, after the check it needed.
    """
    told = []
    loans = horn.loans.select_related("pupil", "issued_by", "returned_to", "mouthpiece_cleaned_by").prefetch_related(
        "accessories", Prefetch("periods", LoanPeriod.objects.select_related("by"))
    )
    for loan in loans:
        link = ("loans:loan", loan.pk)
        periods = list(loan.periods.all())
        first_due = periods[0].due_before if periods else loan.due_on
        sentence = f"Lent to {loan.pupil}, due back on {day(first_due)}."
        told.append(StoryLine(_at(loan.issued_on, 0), "issue", sentence, str(loan.issued_by), link))
        for period in periods:
            sentence = f"{period.get_kind_display().capitalize()}: due back on {day(period.due_on)}."
            told.append(StoryLine(period.at, period.kind, sentence, str(period.by), link))
        if loan.returned_on is None:
            continue
        missing = [one.name for one in loan.accessories.all() if one.came_back is False]
        sentence = f"Came back from {loan.pupil}"
        sentence += f" without {', '.join(missing)}." if missing else ", complete."
        if loan.was_lost:
            sentence = f"Lost while {loan.pupil} had it."
        told.append(StoryLine(_at(loan.returned_on, 1), "return", sentence, str(loan.returned_to), link))
        if loan.mouthpiece_cleaned_on is not None:
            told.append(
                StoryLine(
                    _at(loan.mouthpiece_cleaned_on, 2),
                    "cleaning",
                    "Mouthpiece cleaned.",
                    str(loan.mouthpiece_cleaned_by),
                    link,
                )
            )
    for past in horn.past_loans.select_related("pupil"):
        sentence = f"Was with {past.pupil} until {day(past.returned_on)}, as an older list says."
        told.append(StoryLine(_at(past.issued_on, 0), "issue", sentence, "", None))
    return sorted(told, key=lambda one: one.at, reverse=True)


def _at(when: datetime | object, place: int) -> datetime:
    moment = datetime.combine(when, time(23, 59, 50)) + timedelta(seconds=place)  # type: ignore[arg-type]
    return timezone.make_aware(moment)


def kept() -> dict[str, Any]:
    """Lending's share of what is kept on a horn (see `register.queries.kept`)."""
    out = Loan.objects.open().filter(horn=OuterRef("pk"))
    ended = Loan.objects.ended().filter(horn=OuterRef("pk")).order_by("-returned_on", "-pk")
    uncleaned = ExpressionWrapper(Q(mouthpiece_cleaned_on=None), output_field=BooleanField())
    return {
        "holder_name": Coalesce(Subquery(out.values("pupil__name")[:1]), Value("")),
        "due_on": Subquery(out.values("due_on")[:1]),
        "mouthpiece_owed": Coalesce(Subquery(ended.annotate(owed=uncleaned).values("owed")[:1]), Value(False)),
    }
