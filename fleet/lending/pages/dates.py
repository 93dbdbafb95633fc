"""A later due date, and an earlier one."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.ground.answering import posted
from fleet.ground.wording import day
from fleet.lending.actions import dates
from fleet.lending.forms.dates import RecallForm, RenewForm
from fleet.lending.pages.short_form import loan_asked, short_form
from fleet.people.queries.school_days import school_days
from fleet.people.queries.seats import SeatedRequest


def renew(request: SeatedRequest, pk: int) -> HttpResponse:
    loan, school, today = loan_asked(request, pk), request.seat.school, request.today
    form = RenewForm(posted(request), loan=loan, today=today, days=school_days(school))
    checked = loan.horn.checked_on
    return short_form(
        request,
        loan,
        form,
        lambda: dates.renew(loan=loan, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/renew.html",
        title=_s("Renew %(horn)s") % {"horn": loan.horn},
        said=lambda period: (
            _s("%(horn)s is due back on %(due_on)s now.") % {"horn": loan.horn, "due_on": day(period.due_on)}
        ),
        wants_look=checked is None or (today - checked).days > school.check_days,
        asks=loan.asks.unanswered(),
    )


def recall(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = loan_asked(request, pk)
    days = school_days(request.seat.school)
    form = RecallForm(posted(request), loan=loan, today=request.today, days=days)
    return short_form(
        request,
        loan,
        form,
        lambda: dates.recall(loan=loan, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/recall.html",
        title=_s("Recall %(horn)s") % {"horn": loan.horn},
        said=lambda period: (
            _s("%(horn)s is wanted back on %(due_on)s. The next letters say so.")
            % {"horn": loan.horn, "due_on": day(period.due_on)}
        ),
    )
