"""What a family does on its own pages besides reporting a fault: sign, ask, tell of a loss, take its data along."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.desk.forms import AskForm, BringForm, SignForm, TakenBackForm
from fleet.desk.queries.family import own_ended_loans, own_loans, own_one, own_signatures
from fleet.desk.queries.personal import as_zip, of_guardians
from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.ground.refusal import Refused
from fleet.lending.actions import asks
from fleet.lending.models import FamilyAsk
from fleet.people.actions.accounts import record_entry
from fleet.people.models import Guardian, User
from fleet.record.models import Deed
from fleet.signing.actions import signing
from fleet.signing.pages.agreements import own_answer
from fleet.signing.queries.waiting import can_be_signed
from fleet.workshop.actions import brought
from fleet.workshop.actions.reports import take_back_report
from fleet.workshop.models import FaultReport

# What each page says: title, the field's label, the button, the thanks.
ASKS = {
    FamilyAsk.Kind.RENEW: (
        _("Keep it longer"),
        _("Until when, and why"),
        _("Ask the school"),
        _("The school will answer."),
    ),
    FamilyAsk.Kind.LOST: (
        _("The horn is lost"),
        _("Where and when it was last seen, and whom you have told"),
        _("Tell the school"),
        _("Thank you for saying so at once. The school will answer here."),
    ),
}


def sign(request: HttpRequest, pk: int) -> HttpResponse:
    shown = own_one(own_signatures(request), pk)
    form = SignForm(posted(request))
    user, now = cast(User, request.user), request.now  # type: ignore[attr-defined]
    return answer(
        request,
        form,
        lambda: signing.sign(signature=shown, typed_name=form.cleaned_data["typed_name"], by=user, at=now),
        page="desk/family_sign.html",
        shown=lambda: {
            "signature": shown,
            "stands": can_be_signed(shown, timezone.localdate(now, shown.horn.school.zone)),
        },
        said=gettext("Thank you: it is signed. The school hands out the horn."),
        then=lambda signed: reverse("desk:family-sign", args=(signed.pk,)),
    )


def agreement(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The school's own agreement, of just the version that this signature is about."""
    return own_answer(get_object_or_404(own_signatures(request).exclude(agreement__own=""), pk=pk).agreement)


def renew(request: HttpRequest, pk: int) -> HttpResponse:
    return _ask(request, pk, FamilyAsk.Kind.RENEW)


def lost(request: HttpRequest, pk: int) -> HttpResponse:
    return _ask(request, pk, FamilyAsk.Kind.LOST)


def _ask(request: HttpRequest, pk: int, kind: FamilyAsk.Kind) -> HttpResponse:
    if own_ended_loans(request).filter(pk=pk).exists():
        return redirect("desk:family-horn", pk)
    loan = own_one(own_loans(request), pk)
    title, label, button, thanks = ASKS[kind]
    form = AskForm(posted(request), label=str(label))
    user, now = cast(User, request.user), request.now  # type: ignore[attr-defined]
    return answer(
        request,
        form,
        lambda: asks.ask(loan=loan, kind=kind, words=form.cleaned_data["words"], by=user, at=now),
        page="desk/family_ask.html",
        shown=lambda: {"loan": loan, "title": title, "button": button, "lost": kind == FamilyAsk.Kind.LOST},
        said=str(thanks),
        then=lambda kept: reverse("desk:family-horn", args=(loan.pk,)),
    )


def bring(request: HttpRequest, pk: int) -> HttpResponse:
    """The family says that it brings the horn to be mended."""
    loan = own_one(own_loans(request), pk)
    job = loan.horn.jobs.filter(closed_at=None).first()
    form = BringForm(posted(request))
    user, now = cast(User, request.user), request.now  # type: ignore[attr-defined]

    def act() -> None:
        if job is None:
            raise Refused(gettext("The school does not wait for it any more."))
        brought.bring(job=job, bring_on=form.cleaned_data["day"], by=user, at=now)

    to = reverse("desk:family-horn", args=(loan.pk,))
    return answer_elsewhere(request, form, act, to=to, said=gettext("Thank you. The school expects it."))


def taken_back(request: HttpRequest, pk: int) -> HttpResponse:
    """What was said of the horn is so no more: a fault, a loss, a wish to keep it longer."""
    loan = own_one(own_loans(request), pk)
    form = TakenBackForm(posted(request))
    user, now = cast(User, request.user), request.now  # type: ignore[attr-defined]

    def act() -> None:
        report = FaultReport.objects.filter(pk=form.cleaned_data["report"], pupil=loan.pupil).first()
        if report is not None:
            take_back_report(report=report, by=user, at=now)
        elif ask := loan.asks.filter(pk=form.cleaned_data["ask"]).first():
            asks.take_back_ask(ask=ask, by=user, at=now)

    to = reverse("desk:family-horn", args=(loan.pk,))
    return answer_elsewhere(request, form, act, to=to, said=gettext("Thank you. What you said is taken back."))


def data(request: HttpRequest) -> HttpResponse:
    """Everything on record about this account's families, as a file to take along."""
    own_loans(request)
    account, now = cast(User, request.user), request.now  # type: ignore[attr-defined]
    guardians = Guardian.objects.filter(user=account)
    record_entry(deed=Deed.TAKEN_BY_FAMILY, account=account, by=account, at=now)
    packed = as_zip(of_guardians(guardians), at=now)
    answer = HttpResponse(packed, content_type="application/zip")
    answer.headers["Content-Disposition"] = content_disposition_header(True, "horn-data.zip") or "attachment"
    return answer
