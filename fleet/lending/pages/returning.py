"""Taking a horn back, alone or in exchange: what it was at issue beside what it is now, and the return's own check."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from fleet.ground.answering import lead_on
from fleet.ground.refusal import Refused
from fleet.lending.actions import returning, swapping
from fleet.lending.forms.returning import ReturnForm
from fleet.lending.forms.swapping import SwapForm
from fleet.lending.models import Loan
from fleet.lending.queries.loans import current_loan
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions import unsaved_pictures as kept_pictures
from fleet.workshop.actions.checking import log_check
from fleet.workshop.forms.checks import CheckForm
from fleet.workshop.models import ConditionCheck
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.condition import open_findings

ON_RETURN = ConditionCheck.Occasion.ON_RETURN
CAUTIONS = ("hygiene", "oil", "first")


def give_back(request: SeatedRequest, pk: int) -> HttpResponse:
    return _over_the_counter(request, pk, ReturnForm)


def swap(request: SeatedRequest, pk: int) -> HttpResponse:
    """The horn goes to the bench, another one goes out until the same due date."""
    return _over_the_counter(request, pk, SwapForm)


def return_of(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to taking the horn back from its open loan, for those who know the horn only."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    loan = current_loan(horn)
    if loan is None:
        messages.info(request, f"{horn} is not out, so there is nothing to take back.")
        return redirect("desk:horn", request.seat.school.slug, pk)
    return redirect("loans:return", request.seat.school.slug, loan.pk)


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
        sound = form.is_valid() & check.is_valid()
        # Asked before the form is judged: a horn that was swapped by it is no choice any more.
        there = _sent_before(request, loan, check)
        if there is not None:
            return _done(request, there)
        if sound:
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
        # A new id where the old one may be taken: what is saved next is another return.
        "sent_as": uuid4() if refused or not sent else check.cleaned_data.get("sent_as") or uuid4(),
        "at_issue": list(loan.check_at_issue.findings.all()),
        "refused": refused,
        "cautions": [catalogue().cautions[code] for code in CAUTIONS],
        **check.so_far(),
    }
    status = 409 if refused else 422 if sent else 200
    return render(request, f"loans/{form_class.page}.html", context, status=status)


def _sent_before(request: SeatedRequest, loan: Loan, check: CheckForm) -> Loan | None:
    """The loan as this very return left it, when it was saved already and only the answer was lost."""
    sent_as = check.cleaned_data.get("sent_as")
    if loan.is_open or sent_as is None or loan.check_at_return is None:
        return None
    if (loan.check_at_return.sent_as, loan.check_at_return.by_id) != (sent_as, request.user.pk):
        return None
    return Loan.objects.filter(in_place_of=loan).select_related("horn", "pupil", "in_place_of").first() or loan


def _give_back(request: SeatedRequest, loan: Loan, form: ReturnForm, check: CheckForm, kept: list[str]) -> Loan:
    said = form.cleaned_data

    def look_over(horn: Horn) -> ConditionCheck:
        return log_check(
            horn=horn,
            by=request.user,
            at=check.looked_at(request.now),
            occasion=ON_RETURN,
            finish_grade=check.cleaned_data["finish_grade"],
            notes=check.cleaned_data["notes"],
            found=check.found(),
            pictures=[*kept_pictures.fetch(kept, horn=horn, by=request.user), *check.pictures],
            sent_as=check.cleaned_data["sent_as"],
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
        ended = swapping.swap(loan=loan, to=said["to"], goes_along=said["goes_along"], **same)
    else:
        ended = returning.give_back(loan=loan, returned_on=said["returned_on"], **same)
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
    return lead_on(request, reverse("loans:loan", args=(request.seat.school.slug, loan.pk)))
