"""Sheets to sign that are out: one to hand out by, those printed together, and the button that puts them away."""

from __future__ import annotations

from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _s

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer, answer_elsewhere, posted, posted_files
from fleet.ground.wording import day
from fleet.lending.models import Loan
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.actions.sheets import put_away
from fleet.signing.actions.signed_sheets import keep_signed
from fleet.signing.forms.particulars import SheetsForm
from fleet.signing.forms.signed_sheets import HandOutForm
from fleet.signing.models import Proposed, SheetOut
from fleet.signing.queries.awaited import address_of, batch_of


def sheet_out(request: SeatedRequest, pk: int) -> HttpResponse:
    """One sheet, and the button that hands its horn out; on to the loan once there is one."""
    one = _sheet(request, pk)
    if one.loan_id is not None:
        return redirect("loans:loan", request.seat.school.slug, one.loan_id)
    note_opening(request, pupil=one.pupil)
    form = HandOutForm(posted(request), posted_files(request), today=request.today)
    return answer(
        request,
        form,
        lambda: _handed_out(request, one, form),
        page="loans/sheet_out.html",
        shown=lambda: {
            "sheet": one,
            "late": one.is_late(request.today),
            "issue": address_of(request.seat.school, [one]),
            "together": len(batch_of(one).sheets) > 1,
        },
        said=lambda loan: (
            _s("%(horn)s is out with %(pupil)s until %(due_on)s.")
            % {"horn": loan.horn, "pupil": loan.pupil, "due_on": day(loan.due_on)}
        ),
        then=lambda loan: request.seat.here("loans:loan", loan.pk),
    )


def _handed_out(request: SeatedRequest, one: SheetOut, form: HandOutForm) -> Loan:
    loan = hand_out(**one.terms, signed_on=form.cleaned_data["signed_on"], by=request.user, at=request.now)
    if form.cleaned_data["sheet"] is not None:
        keep_signed(loan=loan, file=form.cleaned_data["sheet"], by=request.user, at=request.now)
    return loan


def sheets_together(request: SeatedRequest, pk: int) -> HttpResponse:
    """The sheets printed in one go with this one: which are in and which are out."""
    one, today = _sheet(request, pk), request.today
    note_opening(request)
    batch = batch_of(one)
    prefetch_related_objects([sheet.loan for sheet in batch.back if sheet.loan], "signed_sheets")
    shown = {
        "batch": batch,
        "first": batch.sheets[0],
        "out": [(sheet, sheet.is_late(today)) for sheet in batch.out],
        "issue": address_of(request.seat.school, batch.out) if batch.out else "",
        "keys": " ".join(str(sheet.pk) for sheet in batch.out),
    }
    return render(request, "loans/sheets_together.html", shown)


def _sheet(request: SeatedRequest, pk: int) -> SheetOut:
    found = SheetOut.objects.at(request.seat.school).select_related(*Proposed.SAID_OF, "horn__school", "printed_by")
    return get_object_or_404(found, pk=pk)


def sheets_away(request: SeatedRequest) -> HttpResponse:
    """Leads back to where the button stood."""
    form = SheetsForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: put_away(
            school=request.seat.school, sheets=form.cleaned_data["sheet"], by=request.user, at=request.now
        ),
        to=way_back(request, request.seat.here("desk:today")),
        said=_said,
    )


def _said(sheets: list[SheetOut]) -> str:
    if len(sheets) == 1:
        return _s("The sheet of %(horn)s for %(pupil)s is put away.") % {
            "horn": sheets[0].horn,
            "pupil": sheets[0].pupil,
        }
    return _s("%(sheets)s sheets are put away.") % {"sheets": len(sheets)} if sheets else ""
