"""A fault mended on the spot, from the horn's page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, from_outbox, lead_on, posted
from fleet.ground.wording import in_a_row
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions.checking import sent_before
from fleet.workshop.actions.mended_now import NOT_FOUND, mended_now
from fleet.workshop.forms.mended_now import MendedNowForm, SentAgainForm
from fleet.workshop.models import ConditionCheck
from fleet.workshop.models.faults import catalogue, grade_of
from fleet.workshop.queries.condition import latest_check, open_findings
from fleet.workshop.queries.parts import stock_of


def mended(request: SeatedRequest, pk: int) -> HttpResponse:
    """The fault that the address names (`fault`) is mended and the horn played: one button more."""
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    fault, last, known = request.GET.get("fault", ""), latest_check(horn), open_findings(horn)
    finding = next((one for one in known if one.fault == fault), None)
    if finding is None:
        return _mended_before(request, horn)
    rest = [one for one in known if one is not finding]
    wanting = stock_of(seat.school).wanting([(fault, finding.count)])
    wanted = [part for part, count in wanting if part.on_hand >= count]
    seen = last.pk if last else 0
    form = MendedNowForm(posted(request), finding=finding, wanted=wanted, initial={"seen": seen})

    def said(check: ConditionCheck) -> str:
        job = horn.jobs.filter(closed_at=None).exists()
        done = {"horn": horn, "fault": finding, "grade": check.get_grade_display()}
        return in_a_row(
            _s("%(horn)s: %(fault)s is mended. Checked: %(grade)s.") % done,
            _s("Its repair job stays open for the rest.") if job else "",
        )

    return answer(
        request,
        form,
        lambda: mended_now(horn=horn, fault=fault, by=request.user, **form.said(request.now)),
        page="workshop/mended_now.html",
        shown=lambda: {
            "horn": horn,
            "finding": finding,
            "rest": rest,
            "grade": grade_of(one.severity for one in rest),
            "cautions": catalogue().cautions_for([fault]),
        },
        said=said,
        then=lambda check: seat.here("desk:horn", horn.pk),
    )


def _mended_before(request: SeatedRequest, horn: Horn) -> HttpResponse:
    """The answer where the horn has no such fault: the outbox may have sent this before."""
    again, to = SentAgainForm(posted(request)), request.seat.here("desk:horn", horn.pk)
    if from_outbox(request):
        there = sent_before(again.cleaned_data["sent_as"], request.user) if again.is_valid() else None
        return lead_on(request, to) if there else JsonResponse({"sentence": str(NOT_FOUND)}, status=409)
    messages.info(request, _s("This is mended already, or was not found."))
    return redirect(to)
