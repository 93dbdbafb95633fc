"""How the day on which something is due stands to today: the one place that says what is overdue and what is near.

Rows with such a day say `due(today)`; lists of them are narrowed by `over` and `near`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, ngettext


@dataclass(frozen=True, slots=True)
class DueDay:
    on: date
    today: date

    @property
    def is_over(self) -> bool:
        """Overdue: from the day after the due day on."""
        return self.on < self.today

    def is_near(self, within: int) -> bool:
        """Due within so many days, today among them, or over."""
        return self.on <= self.today + timedelta(days=within)

    @property
    def days(self) -> int:
        """Days between the two, whichever comes first."""
        return abs((self.on - self.today).days)

    @property
    def words(self) -> str:
        """`3 days overdue`, `due today`, `1 day left`."""
        if self.is_over:
            over = ngettext("%(count)d day overdue", "%(count)d days overdue", self.days)
            return over % {"count": self.days}
        if not self.days:
            return gettext("due today")
        return ngettext("%(count)d day left", "%(count)d days left", self.days) % {"count": self.days}

    def words_or(self, ahead: str) -> str:
        """`3 days overdue`; what is said as long as it is not over."""
        return self.words if self.is_over else ahead


def over(column: str, today: date) -> Q:
    """`DueDay.is_over` of rows with a day in that column. A row without a day is neither over nor near."""
    return Q(**{f"{column}__lt": today})


def near(column: str, today: date, within: int) -> Q:
    """`DueDay.is_near` of rows with a day in that column."""
    return Q(**{f"{column}__lte": today + timedelta(days=within)})


class DaysBetween(models.Func):
    """How many days one day of a row lies before another."""

    arity = 2
    output_field = models.IntegerField()

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return self._written(compiler, "CAST(julianday({}) - julianday({}) AS INTEGER)")

    def as_postgresql(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return self._written(compiler, "({} - {})")

    def _written(self, compiler: Any, sentence: str) -> tuple[str, tuple[Any, ...]]:
        first, last = (compiler.compile(one) for one in self.get_source_expressions())
        return sentence.format(last[0], first[0]), (*last[1], *first[1])
