"""The family's pages: the horns of one's own children, and nothing else."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.desk.forms import FaultForm
from fleet.desk.queries.family import own_loans, own_signatures, recalled, reported_under
from fleet.desk.queries.horns import pictured, plain_sentence
from fleet.ground.refusal import Refused
from fleet.people.models import User
from fleet.register.models import Photograph
from fleet.register.models.kinds import build_of
from fleet.register.pages.photographs import picture_response
from fleet.reports.pages.horns import care_card_answer
from fleet.reports.pages.loans import loan_sheet_answer
from fleet.workshop.actions.reports import report_fault
from fleet.workshop.models import FaultReport


def family(request: HttpRequest) -> HttpResponse:
    loans = list(own_loans(request).prefetch_related("horn__photographs"))
    to_sign = list(own_signatures(request).waiting())
    if len(loans) == 1 and not to_sign:
        return redirect("desk:family-horn", loans[0].pk)
    cards = [(loan, plain_sentence(loan.horn)) for loan in loans]
    return render(request, "desk/family.html", {"cards": cards, "to_sign": to_sign})


def family_horn(request: HttpRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(own_loans(request), pk=pk)
    now = request.now  # type: ignore[attr-defined]
    form = FaultForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        words, plays = form.cleaned_data["words"], form.cleaned_data["still_plays"] == "yes"
        try:
            report_fault(
                horn=loan.horn, pupil=loan.pupil, by=cast(User, request.user), at=now, words=words, still_plays=plays
            )
        except Refused as no:
            form.add_error("words", no.sentence)
        else:
            messages.success(request, "Thank you. The school sees it at once and will answer here.")
            return redirect("desk:family-horn", loan.pk)
    build = build_of(loan.horn.build)
    reports = FaultReport.objects.filter(reported_under(loan), pupil=loan.pupil)
    return render(
        request,
        "desk/family_horn.html",
        {
            "loan": loan,
            "horn": loan.horn,
            "sentence": plain_sentence(loan.horn),
            "picture": loan.horn.photographs.first(),
            "accessories": [one.name for one in loan.accessories.all()],
            "reports": reports.filter(by=cast(User, request.user)).select_related("job", "horn"),
            "asks": loan.asks.all(),
            "recalled": recalled(loan),
            "charges": loan.charges.due(),
            "others": own_loans(request).exclude(pk=loan.pk).exists(),
            "today": timezone.localdate(now),
            "valveless": build is not None and not build.valves,
            "form": form,
            **pictured(loan.horn),
        },
    )


def family_picture(request: HttpRequest, pk: int) -> HttpResponseBase:
    horns = own_loans(request).values("horn_id")
    return picture_response(get_object_or_404(Photograph, pk=pk, horn__in=horns))


def family_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    return loan_sheet_answer(get_object_or_404(own_loans(request), pk=pk), request)


def family_care(request: HttpRequest, pk: int) -> HttpResponse:
    return care_card_answer(get_object_or_404(own_loans(request), pk=pk).horn, request)
