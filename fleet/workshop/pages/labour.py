"""Work ordered on a job, its clock, and the school's labour prices."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, answer_elsewhere, posted
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions import labour as acts
from fleet.workshop.forms.labour import ClockForm, DropForm, PricesForm, WorkForm
from fleet.workshop.models import Sitting
from fleet.workshop.models.works import works, works_on
from fleet.workshop.pages.jobs import job_asked
from fleet.workshop.queries.agreed import reckoned


def job_work(request: SeatedRequest, pk: int) -> HttpResponse:
    """Orders a work, or takes one off the job; what cannot be is said on the job's page."""
    school = request.seat.school
    job = job_asked(request, pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    to = request.seat.here("workshop:job", job.pk)
    drop = DropForm(posted(request))
    if "drop" in drop.data:
        return answer_elsewhere(request, drop, lambda: acts.drop_work(work=drop.cleaned_data["drop"], **who), to=to)
    form = WorkForm(posted(request), known=works_on(job.horn), reckoned=reckoned(school), school=school)
    return answer_elsewhere(request, form, lambda: acts.order_work(work=form.cleaned_data["work"], **who), to=to)


def job_clock(request: SeatedRequest, pk: int) -> HttpResponse:
    """Starts or stops the clock of who presses."""
    job = job_asked(request, pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    form = ClockForm(posted(request))

    def press() -> Sitting | None:
        if form.cleaned_data["do"] == "start":
            return acts.start_clock(**who)
        acts.stop_clock(minutes=form.cleaned_data["minutes"], **who)
        return None

    return answer_elsewhere(
        request,
        form,
        press,
        to=request.seat.here("workshop:job", job.pk),
        said=lambda forgotten: (
            _s("Your clock on %(horn)s had run on since %(began_at)s and was forgotten: nothing of it counts.")
            % {"horn": forgotten.job.horn, "began_at": f"{forgotten.began_at:%H:%M}"}
            if forgotten
            else ""
        ),
    )


def labour(request: SeatedRequest) -> HttpResponse:
    """What each work takes and costs here, to read, and for the bench to set."""
    seat = request.seat
    may = seat.may("workshop:labour", write=True)
    form = PricesForm(posted(request), school=seat.school) if may else None
    return answer(
        request,
        form,
        lambda: acts.set_prices(school=seat.school, prices=form.prices(), by=request.user, at=request.now),  # type: ignore[union-attr]
        page="workshop/labour.html",
        shown=lambda: {
            "prices": [(works()[code], *told) for code, told in reckoned(seat.school).items() if code in works()]
        },
        said=lambda changed: _s("The labour prices are saved.") if changed else _s("Nothing was changed."),
        then=lambda changed: seat.here("workshop:labour"),
    )
