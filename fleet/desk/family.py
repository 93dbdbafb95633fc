"""The family's pages: the horns of one's own children, and nothing else."""

from __future__ import annotations

from typing import cast

from django import forms
from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleet.desk.horn_page import pictured, plain_sentence
from fleet.loans.models import Loan, LoanPeriod, LoanQuerySet, OnlineSignature
from fleet.loans.signatures import OnlineSignatureQuerySet
from fleet.people.models import Guardian, User
from fleet.refused import Refused
from fleet.register.kinds import build_of
from fleet.register.models import Photograph
from fleet.register.photographs import picture_response
from fleet.reports import care_card, loan_sheet
from fleet.sentences import PlainSentences
from fleet.workshop.actions import report_fault
from fleet.workshop.models import FaultReport


class FaultForm(PlainSentences, forms.Form):
    words = forms.CharField(
        label="What is wrong?",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As you would say it. Please do not try to mend it at home.",
        error_messages={
            "required": "Say in a few words what is wrong.",
            "max_length": "Say it in at most %(limit_value)d characters; this has %(show_value)d.",
        },
    )
    still_plays = forms.ChoiceField(
        label="Does it still play?",
        choices=[("yes", "Yes"), ("no", "No")],
        widget=forms.RadioSelect,
        error_messages={"required": "Say yes or no.", "invalid_choice": "Say yes or no."},
    )


def own_loans(request: HttpRequest) -> LoanQuerySet:
    """Open loans of the pupils this account answers for; 404 for somebody who answers for nobody."""
    user = cast(User, request.user)
    if not Guardian.objects.filter(user=user).exists():
        raise Http404("Not a guardian.")
    loans = Loan.objects.open().answered_for_by(user)
    return loans.select_related("horn__school", "pupil", "in_place_of").order_by("pupil__name", "pk")


def own_signatures(request: HttpRequest) -> OnlineSignatureQuerySet:
    """What was put before this account to sign, taken back or not."""
    mine = OnlineSignature.objects.filter(guardian__user=cast(User, request.user))
    return mine.select_related("horn__school", "pupil", "guardian", "agreement")


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
    reports = FaultReport.objects.filter(_reported_under(loan), pupil=loan.pupil)
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
            "recalled": _recalled(loan),
            "charges": loan.charges.due(),
            "others": own_loans(request).exclude(pk=loan.pk).exists(),
            "today": timezone.localdate(now),
            "valveless": build is not None and not build.valves,
            "form": form,
            **pictured(loan.horn),
        },
    )


def _recalled(loan: Loan) -> LoanPeriod | None:
    """The recall, while it is what set the due date in force."""
    newest = loan.periods.order_by("at", "pk").last()
    return newest if newest is not None and newest.kind == LoanPeriod.Kind.RECALLED else None


def _reported_under(loan: Loan) -> Q:
    """Reports on the horn since it went out, and on those it was swapped in for, which are the ones to be mended."""
    found = Q()
    swapped: Loan | None = loan
    while swapped is not None:
        found |= Q(horn=swapped.horn_id, at__date__gte=swapped.issued_on)
        swapped = swapped.in_place_of
    return found


def family_picture(request: HttpRequest, pk: int) -> HttpResponseBase:
    horns = own_loans(request).values("horn_id")
    return picture_response(get_object_or_404(Photograph, pk=pk, horn__in=horns))


def family_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    return loan_sheet.response(get_object_or_404(own_loans(request), pk=pk), request)


def family_care(request: HttpRequest, pk: int) -> HttpResponse:
    return care_card.response(get_object_or_404(own_loans(request), pk=pk).horn, request)
