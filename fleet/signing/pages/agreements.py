"""The words that guardians sign, and a new version of them."""

from __future__ import annotations

from django.http import HttpResponse

from fleet.ground.answering import answer, posted
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.forms.agreements import AgreementForm


def agreement(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    current = current_agreement(school)
    form = AgreementForm(posted(request), initial={"words": current.words, "seen": current.version})
    return answer(
        request,
        form,
        lambda: write_version(school=school, **form.cleaned_data, by=request.user, at=request.now),
        page="loans/agreement.html",
        shown=lambda: {
            "current": current,
            "earlier": Agreement.objects.filter(school=school).exclude(pk=current.pk).select_related("made_by"),
        },
        said=lambda written: f"Version {written.version} prints on every sheet from now on.",
        then=lambda _: request.seat.here("loans:agreement"),
    )
