"""Taking a horn back, alone or in exchange: what it was at issue beside what it is now, and the return's own check."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, answer_elsewhere, lead_on, posted, posted_files, sure
from fleet.lending.actions import returning, swapping
from fleet.lending.forms.returning import NotedForm, ReturnForm
from fleet.lending.forms.swapping import SwapForm
from fleet.lending.models import Loan
from fleet.lending.queries.loans import current_loan
from fleet.lending.queries.wishes import who_waits
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions import unsaved_pictures
from fleet.workshop.actions.checking import log_check
from fleet.workshop.forms.checks import CheckForm
from fleet.workshop.models import ConditionCheck
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.condition import open_findings

ON_RETURN = ConditionCheck.Occasion.ON_RETURN
CAUTIONS = ("hygiene", "oil", "first")


def give_back(request: SeatedRequest, pk: int) -> HttpResponse:
    return _over_the_counter(request, pk, ReturnForm, returning.give_back)


def swap(request: SeatedRequest, pk: int) -> HttpResponse:
    """The horn goes to the bench, another one goes out until the same due date."""
    return _over_the_counter(request, pk, SwapForm, swapping.swap)


def return_of(request: SeatedRequest, pk: int) -> HttpResponse:
    """On to taking the horn back from its open loan, for those who know the horn only."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    loan = current_loan(horn)
    if loan is None:
        messages.info(request, _s("%(horn)s is not out, so there is nothing to take back.") % {"horn": horn})
        return redirect("desk:horn", request.seat.school.slug, pk)
    return redirect("loans:return", request.seat.school.slug, loan.pk)


def noted(request: SeatedRequest, pk: int) -> HttpResponse:
    """That the horn came back, noted without a connection; it is taken back at the counter."""
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    form = NotedForm(posted(request))
    return answer(
        request,
        form,
        lambda: returning.note_return(horn=horn, by=request.user, at=request.now, **form.said),
        page="loans/noted.html",
        shown=lambda: {"horn": horn},
        said=_s("It is noted that %(horn)s came back. Take it back to end the loan.") % {"horn": horn},
        then=lambda _: request.seat.here("desk:horn", horn.pk),
    )


def note_away(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(Loan.objects.at(request.seat.school).select_related("horn"), pk=pk)
    return answer_elsewhere(
        request,
        sure(request),
        lambda: returning.take_note_away(loan=loan, by=request.user, at=request.now),
        to=request.seat.here("loans:loan", loan.pk),
        said=_s("The note is taken away: %(horn)s is still to come back.") % {"horn": loan.horn},
    )


def _over_the_counter(
    request: SeatedRequest, pk: int, form_class: type[ReturnForm], action: Callable[..., Loan]
) -> HttpResponse:
    related = ("horn__school", "pupil", "guardian", "returned_to", "check_at_issue__by", "noted__by")
    loan = get_object_or_404(Loan.objects.at(request.seat.school).select_related(*related), pk=pk)
    seen = loan.as_noted or loan.check_at_issue
    check = CheckForm(
        posted(request),
        posted_files(request),
        horn=loan.horn,
        known=open_findings(loan.horn),
        initial={
            "occasion": ON_RETURN,
            "finish_grade": seen.finish_grade if seen else None,
        },
    )
    check.fields["occasion"].choices = [(ON_RETURN, ON_RETURN.label)]  # type: ignore[attr-defined]
    form = form_class(posted(request), loan=loan, today=request.today, check=check)
    form.is_valid()
    # Asked whatever the form is worth: a horn that was swapped by it is no choice any more.
    there = _sent_before(request, loan, check)
    if there is not None:
        messages.success(request, _said(there))
        return lead_on(request, _way_on(request, form, there))
    return answer(
        request,
        form,
        lambda: action(
            loan=loan, **form.said, look_over=partial(_look_over, request, form), by=request.user, at=request.now
        ),
        page=f"loans/{form.page}.html",
        shown=lambda: _shown(request, loan, form),
        said=lambda ended: _said(ended) + _who_waits(_ended(ended).horn, request.today),
        then=lambda ended: _way_on(request, form, ended),
    )


def _shown(request: SeatedRequest, loan: Loan, form: ReturnForm) -> dict[str, Any]:
    check, kept = form.check, form.pictures_kept
    if form.is_bound:
        kept += unsaved_pictures.keep(check.pictures, horn=loan.horn, by=request.user, now=request.now)
    # A new id where the old one may be taken, as it is once nothing is wrong with the form: the next is another return.
    same = None if not form.is_bound or form.is_valid() else check.cleaned_data.get("sent_as")
    return {
        "loan": loan,
        "check": check,
        "kept": kept,
        "sent_as": same or uuid4(),
        "at_issue": loan.found_at_issue,
        "cautions": [catalogue().cautions[code] for code in CAUTIONS],
        **check.so_far(),
    }


def _look_over(request: SeatedRequest, form: ReturnForm, horn: Horn) -> ConditionCheck:
    check, found = form.check, form.check.found()
    waited = unsaved_pictures.fetch(form.pictures_kept, horn=horn, by=request.user, found=found)
    return log_check(
        horn=horn,
        by=request.user,
        at=check.done_at(request.now),
        received_at=check.received_at(request.now),
        occasion=ON_RETURN,
        finish_grade=check.cleaned_data["finish_grade"],
        notes=check.cleaned_data["notes"],
        found=found,
        pictures=[*waited, *check.pictures],
        sent_as=check.cleaned_data["sent_as"],
    )


def _sent_before(request: SeatedRequest, loan: Loan, check: CheckForm) -> Loan | None:
    """The loan as this very return left it, when it was saved already and only the answer was lost."""
    sent_as = check.cleaned_data.get("sent_as") if check.is_bound else None
    if loan.is_open or sent_as is None or loan.check_at_return is None:
        return None
    if (loan.check_at_return.sent_as, loan.check_at_return.by_id) != (sent_as, request.user.pk):
        return None
    return Loan.objects.filter(in_place_of=loan).select_related("horn", "pupil", "in_place_of").first() or loan


def _ended(loan: Loan) -> Loan:
    """The loan that a return or a swap ended, which for a swap is not the one it answers with."""
    return loan.in_place_of if loan.is_open and loan.in_place_of else loan


def _said(loan: Loan) -> str:
    old = _ended(loan)
    told = _s("%(horn)s is back from %(pupil)s.") % {"horn": old.horn, "pupil": loan.pupil}
    if old is not loan:
        told = _s("%(horn)s goes out in place of %(old)s. Print its sheet for the family.") % {
            "horn": loan.horn,
            "old": old.horn,
        }
    grade = old.check_at_return.grade if old.check_at_return else None
    if grade is not None and grade >= Horn.Grade.REPAIR_FIRST:
        told = f"{told} {_s('What was found is on the bench list.')}"
    return told


def _who_waits(horn: Horn, today: date) -> str:
    said = who_waits([horn], horn.school, today).get(horn.pk)
    return f" {said}" if said else ""


def _way_on(request: SeatedRequest, form: ReturnForm, loan: Loan) -> str:
    old = _ended(loan)
    unsaved_pictures.forget(form.pictures_kept, horn=old.horn, by=request.user)
    if old.check_at_return is not None and old.check_at_return.grade == Horn.Grade.MUST_NOT_BE_PLAYED:
        messages.warning(
            request, _s("%(horn)s must not be played until it is mended. Put it aside.") % {"horn": old.horn}
        )
    return request.seat.here("loans:loan", loan.pk)
