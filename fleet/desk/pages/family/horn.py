"""The list of a family's horns and the page of one, with its papers."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from fleet.desk.forms import FaultForm
from fleet.desk.queries.family import (
    MENDED,
    hangs_on,
    own_ended_loans,
    own_every_loan,
    own_loans,
    own_one,
    own_records,
    own_signatures,
    repair_of,
    reports_of,
    speak_as,
)
from fleet.desk.queries.horns import pictured_plainly, plain_sentence
from fleet.desk.queries.papers import signed_by
from fleet.ground.answering import answer, posted
from fleet.ground.due import DueDay
from fleet.lending.models import Charge, Loan
from fleet.people.models import User
from fleet.register.models import Photograph
from fleet.register.models.kinds import build_of
from fleet.register.pages.photographs import picture_response
from fleet.reports.pages.horns import care_card_answer
from fleet.reports.pages.loans import loan_sheet_answer
from fleet.signing.pages.signed_sheets import signed_sheet_answer
from fleet.workshop.actions.reports import report_fault
from fleet.workshop.queries.looking_after import care_of


def family(request: HttpRequest) -> HttpResponse:
    loans = list(own_loans(request).prefetch_related("horn__photographs"))
    # What the school will ask anew, or takes back, is not read and signed first.
    now = request.now  # type: ignore[attr-defined]
    days = {one.school_id: timezone.localdate(now, one.school.zone) for one in own_records(request)}
    stand = own_signatures(request).unused().standing(min(days.values()))
    unused = [one for one in stand if not DueDay(one.due_on, days[one.horn.school_id]).is_over]
    to_sign = [one for one in unused if one.signed_at is None and one.can_be_lent]
    signed = [one for one in unused if one.signed_at is not None]
    ended = own_ended_loans(request)
    due = Charge.objects.due()
    owing = ended.filter(charges__in=due).distinct()
    to_pay = list(owing.prefetch_related(Prefetch("charges", due, to_attr="still_due")))
    if len(loans) == 1 and not (to_sign or signed or to_pay):
        return redirect("desk:family-horn", loans[0].pk)
    cards = [(loan, plain_sentence(loan.horn)) for loan in loans]
    lost = [one for one in ended.lost() if one not in to_pay]
    shown = {"cards": cards, "to_sign": to_sign, "signed": signed, "to_pay": to_pay, "lost": lost}
    return render(request, "desk/family.html", {**shown, "reached": own_records(request)})


def family_horn(request: HttpRequest, pk: int) -> HttpResponse:
    loans = {loan.pk: loan for loan in own_loans(request)}
    if (loan := loans.get(pk)) is None:
        return _ended(request, own_one(own_ended_loans(request), pk))
    speak_as(loan)
    form = FaultForm(posted(request))
    user, now = cast(User, request.user), request.now  # type: ignore[attr-defined]
    return answer(
        request,
        form,
        lambda: report_fault(horn=loan.horn, pupil=loan.pupil, by=user, at=now, **form.said),
        page="desk/family_horn.html",
        shown=lambda: {**_horn_shown(request, loan), "others": len(loans) > 1},
        said=gettext("Thank you. The school sees it at once and will answer here."),
        then=lambda _: reverse("desk:family-horn", args=(loan.pk,)),
        refused_on="words",
    )


def _horn_shown(request: HttpRequest, loan: Loan) -> dict[str, Any]:
    rows, left_on = hangs_on(loan), loan.pupil.left_on
    today = timezone.localdate(request.now, loan.horn.school.zone)  # type: ignore[attr-defined]
    build, repair, asks = build_of(loan.horn.build), repair_of(rows["jobs"]), rows["asks"]
    reports = [
        (report, became, became == str(MENDED) or (report.answered_at is not None and report.job is None))
        for report, became in reports_of(loan)
    ]
    # Whoever told the school more since has read that answer.
    earlier = [
        one for one in reports if one[0].job is None and one[0].answered_at and one[0].answered_at < reports[0][0].at
    ]
    return {
        "loan": loan,
        "horn": loan.horn,
        "sentence": plain_sentence(loan.horn),
        "picture": next(iter(rows["photographs"]), None),
        "accessories": [gettext(one.name) for one in rows["accessories"]],
        "repair": repair,
        "repair_done": [str(one) for one in repair.findings.exclude(mended_at=None)] if repair else [],
        "reports": [one for one in reports if one not in earlier],
        "earlier": earlier,
        "asks": asks,
        # What the school has and has not answered is not asked again.
        "asked": {ask.kind for ask in asks if ask.answered_at is None},
        "signed_sheets": signed_by(request, Loan.objects.filter(pk=loan.pk)),
        "recalled": loan.recall,
        "charges": rows["charges"],
        "due": loan.due(today),
        "left": left_on is not None and left_on <= today,
        "care": care_of(build),
        "build": build,
        "reached": own_records(request),
        **pictured_plainly(loan.horn),
    }


def _ended(request: HttpRequest, loan: Loan) -> HttpResponse:
    """What was about to be reported of a loan that ended meanwhile is not taken, as the status says."""
    shown = {"loan": loan, "horn": loan.horn, "charges": loan.charges.due(), "asks": loan.asks.select_related("by")}
    return render(request, "desk/family_ended.html", shown, status=409 if request.method == "POST" else 200)


def family_picture(request: HttpRequest, pk: int) -> HttpResponseBase:
    horns = own_loans(request).values("horn_id")
    return picture_response(get_object_or_404(Photograph, pk=pk, horn__in=horns))


def family_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    return loan_sheet_answer(get_object_or_404(own_every_loan(request), pk=pk), request)


def family_signed_sheet(request: HttpRequest, pk: int) -> HttpResponseBase:
    return signed_sheet_answer(get_object_or_404(signed_by(request, own_every_loan(request)), pk=pk))


def family_care(request: HttpRequest, pk: int) -> HttpResponse:
    return care_card_answer(own_one(own_loans(request), pk).horn, request)
