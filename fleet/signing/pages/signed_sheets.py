"""Signed sheets kept with a loan: shown only to heads and teachers, and to the guardian who signed."""

from __future__ import annotations

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted, posted_files, sure
from fleet.ground.files.given import paper_answer
from fleet.lending.pages.loans import loan_of_school
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.actions.signed_sheets import keep_signed, remove_signed
from fleet.signing.forms.signed_sheets import SignedSheetForm
from fleet.signing.models import SignedSheet


def signed_sheet_new(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = loan_of_school(request, pk)
    form = SignedSheetForm(posted(request), posted_files(request))
    title = _s("%(horn)s to %(pupil)s: keep the signed sheet") % {"horn": loan.horn, "pupil": loan.pupil}
    return answer(
        request,
        form,
        lambda: keep_signed(loan=loan, file=form.cleaned_data["sheet"], by=request.user, at=request.now),
        page="loans/signed_sheet_new.html",
        shown=lambda: {"loan": loan, "title": title},
        said=_s("The signed sheet is kept with the loan."),
        then=lambda _: request.seat.here("loans:loan", loan.pk),
    )


def signed_sheet(request: SeatedRequest, pk: int) -> HttpResponseBase:
    sheet = _sheet(request, pk)
    note_opening(request, pupil=sheet.loan.pupil)
    return signed_sheet_answer(sheet)


def signed_sheet_answer(sheet: SignedSheet) -> HttpResponseBase:
    return paper_answer(sheet.file, f"signed-{sheet.loan.horn}")


def signed_sheet_remove(request: SeatedRequest, pk: int) -> HttpResponse:
    sheet = _sheet(request, pk)
    title = _s("Remove this %(kind)s?") % {"kind": sheet.kind}
    return answer(
        request,
        sure(request),
        lambda: remove_signed(sheet=sheet, by=request.user, at=request.now),
        page="loans/signed_sheet_remove.html",
        shown=lambda: {"sheet": sheet, "loan": sheet.loan, "title": title},
        said=_s("It is taken away."),
        then=lambda _: request.seat.here("loans:loan", sheet.loan_id),
    )


def _sheet(request: SeatedRequest, pk: int) -> SignedSheet:
    related = ("loan__horn__school", "loan__pupil", "loan__guardian", "by")
    return get_object_or_404(
        SignedSheet.objects.select_related(*related), loan__horn__school=request.seat.school, pk=pk
    )
