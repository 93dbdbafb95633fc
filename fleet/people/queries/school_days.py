"""Whether a day is a school day and which is the next: asked here by whatever sets a day on which a horn is due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.people.models import Holiday, School

DAY = timedelta(days=1)
WEEKEND = {5: _s_lazy("a Saturday"), 6: _s_lazy("a Sunday")}


@dataclass(frozen=True, slots=True)
class ProposedDay:
    """A due day proposed: `on`, and in `said` why it is that day; "" where it is so many days from now."""

    on: date
    said: str


@dataclass(frozen=True, slots=True)
class SchoolDays:
    """A school's calendar: the end of its year where that is known, and its holidays."""

    loan_days: int
    year_ends: date | None = None
    holidays: Sequence[Holiday] = ()

    def no_school(self, on: date) -> str:
        """`a Saturday`, `a holiday (Winter)`: why that is no school day; "" for a school day."""
        holiday = self._holiday(on)
        return _s("a holiday (%(holiday)s)") % {"holiday": holiday} if holiday else WEEKEND.get(on.weekday(), "")

    def next(self, on: date) -> date:
        """That day, or the first school day after it."""
        while self.no_school(on):
            holiday = self._holiday(on)
            on = (holiday.last if holiday else on) + DAY
        return on

    def last(self, on: date) -> date:
        """That day, or the last school day before it."""
        while self.no_school(on):
            holiday = self._holiday(on)
            on = (holiday.first if holiday else on) - DAY
        return on

    def moved(self, on: date, *, after: date) -> date:
        """That day, or the next school day; where the school year would be over by then, the last one before it,
        as long as that is later than `after`."""
        later = self.next(on)
        if self.year_ends and on <= self.year_ends < later and (sooner := self.last(on)) > after:
            return sooner
        return later

    def proposed(self, after: date) -> ProposedDay:
        """When a loan is due that begins or goes on after this day: at the school year's end, where that lies ahead."""
        if self.year_ends and self.year_ends > after:
            wanted, said = (
                self.year_ends,
                _s("The school year ends on %(year_ends)s.") % {"year_ends": day(self.year_ends)},
            )
        else:
            wanted, said = after + timedelta(days=self.loan_days), ""
        on = self.moved(wanted, after=after)
        return ProposedDay(
            on,
            said if on == wanted else _s("%(wanted)s; due on %(on)s.") % {"wanted": self._said(wanted), "on": day(on)},
        )

    def warning(self, on: date) -> str:
        """`12 May 2027 is a holiday (Ascension).` where a day that somebody typed is no school day, else ""."""
        return f"{self._said(on)}." if self.no_school(on) else ""

    def _said(self, on: date) -> str:
        return _s("%(day)s is %(why)s") % {"day": day(on), "why": self.no_school(on)}

    def _holiday(self, on: date) -> Holiday | None:
        return next((one for one in self.holidays if one.first <= on <= one.last), None)


def years_behind(ends: date | None, today: date, count: int = 3) -> list[date]:
    """On which days the newest school years, so many, ended, the newest first; none where no end is known."""
    ended = [in_year(ends, today.year - back) for back in range(count + 1)] if ends else []
    return [one for one in ended if one < today][:count]


def in_year(one: date, year: int) -> date:
    """That day of another year; of a leap day the one before."""
    return one.replace(year=year, day=28 if (one.month, one.day) == (2, 29) else one.day)


def due_within(holidays: Sequence[Holiday], school: School) -> dict[int, list[tuple[int, str]]]:
    """The loans that are out and due within each of these holidays, as (key, number of the horn), by the holiday's key.
    One query, without holidays none."""
    found: dict[int, list[tuple[int, str]]] = {}
    if holidays:
        first, last = min(one.first for one in holidays), max(one.last for one in holidays)
        out = School.objects.filter(
            pk=school.pk, horns__loans__returned_on=None, horns__loans__due_on__range=(first, last)
        )
        for due, key, number in out.order_by("horns__loans__due_on", "horns__loans__pk").values_list(
            "horns__loans__due_on", "horns__loans__pk", "horns__number"
        ):
            for one in holidays:
                if one.first <= due <= one.last:
                    found.setdefault(one.pk, []).append((key, number))
    return found


def school_days(school: School) -> SchoolDays:
    """One query."""
    return SchoolDays(school.loan_days, school.year_ends, list(Holiday.objects.filter(school=school)))
