"""A horn on loan at the bench: what its family is told, and that it was fetched."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, answer_elsewhere, posted, sure
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.brought import NAMES, fetched, tell_family
from fleet.workshop.forms.brought import FamilyToldForm
from fleet.workshop.pages.jobs import job_asked


def job_family(request: SeatedRequest, pk: int) -> HttpResponse:
    job = job_asked(request, pk)
    form = FamilyToldForm(
        posted(request),
        today=request.today,
        to_bring=job.is_open and not job.horn.on_bench,
        initial={name: getattr(job, name) for name in NAMES},
    )
    return answer(
        request,
        form,
        lambda: tell_family(job=job, said=form.told, by=request.user, at=request.now),
        page="workshop/job_family.html",
        shown=lambda: {"job": job, "horn": job.horn},
        said=lambda told: (
            _s("The family reads it on its page.")
            if told.bring_on or told.fetch_on
            else _s("No day is said, so the family is told nothing.")
        ),
        then=lambda _: request.seat.here("workshop:job", job.pk),
    )


def job_fetched(request: SeatedRequest, pk: int) -> HttpResponse:
    job = job_asked(request, pk)
    return answer_elsewhere(
        request,
        sure(request),
        lambda: fetched(job=job, by=request.user, at=request.now),
        to=request.seat.here("workshop:job", job.pk),
        said=_s("%(horn)s was fetched. Its loan goes on.") % {"horn": job.horn},
    )
