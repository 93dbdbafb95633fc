"""The words that guardians sign with the school's own PDF, and a new version of them."""

from __future__ import annotations

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted, posted_files
from fleet.ground.files.given import paper_answer
from fleet.lending.actions.agreements import write_version
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.people.queries.seats import SeatedRequest
from fleet.signing.forms.agreements import AgreementForm
from fleet.signing.queries.waiting import loans_at_home


def agreement(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    current = current_agreement(school)
    first = {"words": current.words, "seen": current.version}
    form = AgreementForm(posted(request), posted_files(request), school=school, current=current, initial=first)
    return answer(
        request,
        form,
        lambda: write_version(school=school, **form.said, by=request.user, at=request.now),
        page="loans/agreement.html",
        shown=lambda: {
            "current": current,
            "at_home": loans_at_home(school),
            "lacking": current.lacking(school),
            "earlier": Agreement.objects.filter(school=school).exclude(pk=current.pk).select_related("made_by"),
        },
        said=lambda written: (
            _s("Version %(version)s prints on every sheet from now on.") % {"version": written.version}
        ),
        then=lambda _: request.seat.here("loans:agreement"),
        refused_on="words",
    )


def agreement_own(request: SeatedRequest, pk: int) -> HttpResponseBase:
    """The PDF of one version."""
    versions = Agreement.objects.filter(school=request.seat.school).exclude(own="")
    return own_answer(get_object_or_404(versions, pk=pk))


def own_answer(agreement: Agreement) -> HttpResponseBase:
    return paper_answer(agreement.own, f"agreement-{agreement.version}")
