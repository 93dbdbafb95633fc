"""Taking a horn back, alone or in exchange: what it was at issue beside what it is now, and the return's own check."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.access import SeatedRequest
from fleet.loans import actions, moving
from fleet.loans.forms import ReturnForm
from fleet.loans.lending import way_out_of
from fleet.loans.models import Loan
from fleet.loans.running_forms import SwapForm
from fleet.refused import Refused
from fleet.register.models import Horn
from fleet.workshop import kept_pictures
from fleet.workshop.actions import log_check
from fleet.workshop.condition import open_findings
from fleet.workshop.faults import catalogue
from fleet.workshop.forms import CheckForm
from fleet.workshop.models import ConditionCheck

ON_RETURN = ConditionCheck.Occasion.ON_RETURN
CAUTIONS = ("hygiene", "oil", "first")


def give_back(request: SeatedRequest, pk: int) -> HttpResponse:
    return _over_the_counter(request, pk, ReturnForm)


def swap(request: SeatedRequest, pk: int) -> HttpResponse:
    """The horn goes to the bench, another one goes out until the same due date."""
    return _over_the_counter(request, pk, SwapForm)


def _over_the_counter(request: SeatedRequest, pk: int, form_class: type[ReturnForm]) -> HttpResponse:
    related = ("horn__school", "pupil", "guardian", "returned_to", "check_at_issue__by")
    loan = get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)
    sent = request.method == "POST"
    form = form_class(request.POST if sent else None, loan=loan, today=timezone.localdate(request.now))
    check = CheckForm(
        *((request.POST, request.FILES) if sent else (None, None)),
        horn=loan.horn,
        known=open_findings(loan.horn),
        initial={"occasion": ON_RETURN, "finish_grade": loan.check_at_issue.finish_grade},
    )
    check.fields["occasion"].choices = [(ON_RETURN, ON_RETURN.label)]  # type: ignore[attr-defined]
    kept = request.POST.getlist("kept")
    refused = None
    if sent:
        if form.is_valid() & check.is_valid():
            try:
                return _done(request, _give_back(request, loan, form, check, kept))
            except Refused as no:
                refused = no
        kept += kept_pictures.keep(check.pictures, horn=loan.horn, by=request.user, now=request.now)
    context = {
        "loan": loan,
        "form": form,
        "check": check,
        "kept": kept,
        "at_issue": list(loan.check_at_issue.findings.all()),
        "refused": refused,
        "way_out": way_out_of(refused, loan.horn, request.seat),
        "cautions": [catalogue().cautions[code] for code in CAUTIONS],
        **check.so_far(),
    }
    status = 409 if refused else 422 if sent else 200
    return render(request, f"loans/{form_class.page}.html", context, status=status)


def _give_back(request: SeatedRequest, loan: Loan, form: ReturnForm, check: CheckForm, kept: list[str]) -> Loan:
    said = form.cleaned_data

    def look_over(horn: Horn) -> ConditionCheck:
        return log_check(
            horn=horn,
            by=request.user,
            at=request.now,
            occasion=ON_RETURN,
            finish_grade=check.cleaned_data["finish_grade"],
            notes=check.cleaned_data["notes"],
            found=check.found(),
            pictures=[*kept_pictures.fetch(kept, horn=horn, by=request.user), *check.pictures],
        )

    same = {
        "came_back": said["came_back"],
        "look_over": look_over,
        "mouthpiece_cleaned_on": said["mouthpiece_cleaned_on"],
        "notes": said["return_notes"],
        "by": request.user,
        "at": request.now,
    }
    if isinstance(form, SwapForm):
        ended = moving.swap(loan=loan, to=said["to"], **same)
    else:
        ended = actions.give_back(loan=loan, returned_on=said["returned_on"], **same)
    kept_pictures.forget(kept, horn=loan.horn, by=request.user)
    return ended


def _done(request: SeatedRequest, loan: Loan) -> HttpResponse:
    old = loan.in_place_of if loan.is_open and loan.in_place_of else loan
    told = f"{old.horn} is back from {loan.pupil}."
    if old is not loan:
        told = f"{loan.horn} goes out in place of {old.horn}. Print its sheet for the family."
    grade = old.check_at_return.grade if old.check_at_return else None
    if grade is not None and grade >= Horn.Grade.REPAIR_FIRST:
        told += " What was found is on the bench list."
    messages.success(request, told)
    if grade == Horn.Grade.WITHDRAW:
        messages.warning(request, f"{old.horn} must not be played until it is mended. Put it aside.")
    return redirect("loans:loan", request.seat.school.slug, loan.pk)
