"""What is done to many loans at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many

from fleet.desk.pages.several.act import Several
from fleet.ground.answering import posted
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import day
from fleet.lending.actions import dates
from fleet.lending.forms.dates import RecallManyForm, RenewManyForm
from fleet.lending.models import Loan
from fleet.lending.queries.listing import loans_asked
from fleet.people.models import School, User
from fleet.people.queries.school_days import school_days
from fleet.people.queries.seats import SeatedRequest


class OfLoans(Several[Any]):
    box, listed_on = "loan", "loans:loans"
    at_least = _s_lazy("Tick at least one loan.")

    def count(self, many: int) -> str:
        return _s_many("%(many)s loan", "%(many)s loans", many) % {"many": many}

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        loans = Loan.objects.at(school).filter(pk__in=list(keys)).select_related("horn__school", "pupil", "guardian")
        return list(loans.order_by("due_on", "pk"))

    def all_of(self, request: SeatedRequest) -> QuerySet[Any]:
        filters = loans_asked(request.GET, request.seat.school, request.today)
        found: QuerySet[Any] = filters.qs.order_by("due_on", "pk")
        return found

    def name(self, row: Any) -> str:
        return f"{row.horn}, {row.pupil.described}"

    def now(self, row: Any) -> str:
        return _s("due back %(due_on)s") % {"due_on": day(row.due_on)}

    def seen(self, row: Any) -> str:
        return str(row.due_on.isoformat())

    def why_not(self, row: Any, today: date) -> str:
        return "" if row.is_open else _s("It ended on %(returned_on)s.") % {"returned_on": day(row.returned_on)}


class Renew(OfLoans):
    path, title, button = "renew", _s_lazy("Renew"), _s_lazy("Renew them")
    for_good = _s_lazy("The earlier day stays in each loan’s story. Recall a loan to make the day earlier again.")

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> RenewManyForm:
        return RenewManyForm(posted(request), today=request.today, days=school_days(request.seat.school))

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        dates.renew(loan=row, due_seen=row.due_on, **said, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s renewed until %(said)s.") % {"many": many, "said": day(said["due_on"])}


class NextSchoolDay(OfLoans):
    path, title, button = "school-day", _s_lazy("Move due days to the next school day"), _s_lazy("Move them")
    for_good = _s_lazy("The earlier day stays in each loan’s story. Recall a loan to make the day earlier again.")

    def rows(self, school: School, keys: Iterable[int]) -> list[Any]:
        """Each with the calendar of the school in `days`."""
        loans, days = super().rows(school, keys), school_days(school)
        for loan in loans:
            loan.days = days
        return loans

    def now(self, row: Any) -> str:
        if not (warning := row.days.warning(row.due_on)):
            return super().now(row)
        return _s("%(warning)s; it would be due on %(due_on)s") % {
            "warning": warning.removesuffix("."),
            "due_on": day(row.days.next(row.due_on)),
        }

    def why_not(self, row: Any, today: date) -> str:
        ended = super().why_not(row, today)
        return ended or (
            ""
            if row.days.no_school(row.due_on)
            else _s("It is due on a school day, %(due_on)s.") % {"due_on": day(row.due_on)}
        )

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        reason = row.days.warning(row.due_on)
        until = row.days.next(row.due_on)
        dates.renew(loan=row, due_on=until, due_seen=row.due_on, reason=reason, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s moved to the next school day.") % {"many": many}


class Recall(OfLoans):
    path, title, button = "recall", _s_lazy("Recall"), _s_lazy("Recall them")
    for_good = _s_lazy("The next letters say so. Renew a loan to make the day later again.")

    def form(self, request: SeatedRequest, rows: Sequence[Any]) -> RecallManyForm:
        days = school_days(request.seat.school)
        return RecallManyForm(posted(request), today=request.today, days=days)

    def do(self, row: Any, *, said: dict[str, Any], by: User, at: datetime) -> None:
        dates.recall(loan=row, due_seen=row.due_on, **said, by=by, at=at)

    def told(self, many: str, said: dict[str, Any]) -> str:
        return _s("%(many)s recalled: due back on %(said)s.") % {"many": many, "said": day(said["due_on"])}


class PrintLoans(OfLoans):
    path, title = "sheets", _s_lazy("Print for these loans")
    prints = (("reports:loan-sheets", _s_lazy("Loan sheets")),)
