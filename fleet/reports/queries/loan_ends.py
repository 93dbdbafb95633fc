"""How a horn went out and how its loan ended, for the sheet, in the language spoken now."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from fleet.ground.wording import day, with_commas
from fleet.lending.models import Ended, Loan
from fleet.workshop.models import ConditionCheck


@dataclass(frozen=True, slots=True)
class Returned:
    """How a loan ended; of a lost horn nothing is said but that."""

    how: str
    on: str
    by: str
    missing: tuple[str, ...]
    grade: str
    mouthpiece: str
    instead: str = ""


def condition_in_words(check: ConditionCheck | None) -> str:
    if check is None:
        return gettext("Nobody looked it over before it went out.")
    return gettext("Grade %(grade)s: %(words)s. Finish: %(finish)s. Checked %(day)s.") % {
        "grade": check.grade,
        "words": gettext(check.get_grade_display()),
        "finish": gettext(check.get_finish_grade_display()),
        "day": day(timezone.localdate(check.at)),
    }


def returned(loan: Loan) -> Returned | None:
    how = loan.ended_as
    if loan.returned_on is None or how is None:
        return None
    if how is Ended.LOST:
        return Returned(gettext_noop("Lost"), day(loan.returned_on), str(loan.returned_to), (), "", "")
    check = loan.check_at_return
    cleaned = loan.mouthpiece_cleaned_on
    return Returned(
        how=gettext_noop("Swapped") if how is Ended.SWAPPED else gettext_noop("Came back"),
        instead=loan.goes_on_as.horn.number if loan.goes_on_as else "",
        on=day(loan.returned_on),
        by=str(loan.returned_to),
        missing=tuple(thing.in_words for thing in loan.accessories.all() if thing.came_back is False),
        grade=with_commas((check.grade, gettext(check.get_grade_display()))) if check else "",
        mouthpiece=with_commas((day(cleaned), loan.mouthpiece_cleaned_by)) if cleaned else gettext("not cleaned yet"),
    )
