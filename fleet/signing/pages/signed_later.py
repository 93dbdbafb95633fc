"""The page that says when the sheet of a loan from a list was signed."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.lending.models import Loan
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.actions.signed_later import record_signed
from fleet.signing.forms.particulars import SignedForm


def signed(request: SeatedRequest, pk: int) -> HttpResponse:
    loans = Loan.objects.at(request.seat.school).select_related("horn", "pupil", "guardian")
    loan = get_object_or_404(loans, pk=pk)
    form = SignedForm(posted(request), today=request.today)
    return answer(
        request,
        form,
        lambda: record_signed(loan=loan, signed_on=form.cleaned_data["signed_on"], by=request.user, at=request.now),
        page="loans/signed_later.html",
        shown=lambda: {"loan": loan, "title": _s("%(horn)s to %(pupil)s") % {"horn": loan.horn, "pupil": loan.pupil}},
        said=_s("%(guardian)s has signed for %(horn)s.") % {"guardian": loan.guardian, "horn": loan.horn},
        then=lambda done: request.seat.here("loans:loan", done.pk),
    )
