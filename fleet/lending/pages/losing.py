"""Recording that a horn was lost."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.ground.answering import posted
from fleet.lending.actions.returning import lose
from fleet.lending.forms.losing import LostForm
from fleet.lending.pages.short_form import loan_asked, short_form
from fleet.people.queries.seats import SeatedRequest


def lost(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = loan_asked(request, pk)
    form = LostForm(posted(request))
    return short_form(
        request,
        loan,
        form,
        lambda: lose(loan=loan, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/lost.html",
        title=_s("Lost: %(horn)s") % {"horn": loan.horn},
        said=_s("%(horn)s stands in the register as not found. Found again, it is recorded on its page.")
        % {"horn": loan.horn},
        asks=loan.asks.unanswered(),
    )
