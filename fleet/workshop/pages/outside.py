"""A job at a repairer outside, a head's word for what it costs, and the invoices for it."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, answer_elsewhere, posted, posted_files
from fleet.ground.badges import money
from fleet.ground.files.given import paper_answer
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.agreed import add_quote, drop_quote, take_quote
from fleet.workshop.actions.billing import keep_invoice, remove_invoice
from fleet.workshop.actions.outside import NAMES, change_outside
from fleet.workshop.actions.outside import approve as give_word
from fleet.workshop.forms.agreed import QuoteForm, QuotePressedForm
from fleet.workshop.forms.billing import InvoiceForm, InvoicePressedForm
from fleet.workshop.forms.outside import ApproveForm, OutsideForm
from fleet.workshop.models import Invoice, RepairJob
from fleet.workshop.pages.jobs import job_asked
from fleet.workshop.queries.agreed import turnarounds


def outside(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    job = job_asked(request, pk)
    form = _form(request, job, posted(request))
    return answer(
        request,
        form,
        lambda: change_outside(
            job=job, by=request.user, at=request.now, seen=form.cleaned_data["seen"], said=form.said()
        ),
        page="workshop/outside.html",
        shown=lambda: _shown(request, job, QuoteForm(school=seat.school) if job.is_open else None),
        said=lambda changed: _s("The job is saved: %(state)s.") % {"state": changed.get_state_display()},
        then=lambda changed: seat.here("workshop:job", job.pk),
        when_refused=lambda: form.go_on_from(form.initial["seen"]),
    )


def job_quote(request: SeatedRequest, pk: int) -> HttpResponse:
    """Keeps another repairer's quote, takes it or removes it; what cannot be is said on the page of the repairer."""
    seat = request.seat
    job = job_asked(request, pk)
    to = seat.here("workshop:job-outside", job.pk)
    pressed = QuotePressedForm(posted(request))

    def press() -> None:
        act = take_quote if pressed.takes else drop_quote
        act(job=job, quote=pressed.quote, by=request.user, at=request.now)

    if request.method != "POST" or "do" in pressed.data:
        return answer_elsewhere(request, pressed, press, to=to)
    another = QuoteForm(posted(request), school=seat.school)
    return answer(
        request,
        another,
        lambda: add_quote(job=job, by=request.user, at=request.now, **another.cleaned_data),
        page="workshop/outside.html",
        shown=lambda: {"form": _form(request, job, None), **_shown(request, job, another)},
        then=lambda kept: to,
    )


def _form(request: SeatedRequest, job: RepairJob, sent: QueryDict | None) -> OutsideForm:
    last = job.steps.last()
    return OutsideForm(
        sent,
        school=request.seat.school,
        today=request.today,
        initial={"seen": last.pk if last else 0, **{name: getattr(job, name) for name in NAMES}},
    )


def _shown(request: SeatedRequest, job: RepairJob, another: QuoteForm | None) -> dict[str, Any]:
    return {
        "job": job,
        "horn": job.horn,
        "to": request.seat.here("workshop:job-outside", job.pk),
        "quotes": list(job.other_quotes.all()),
        "another": another,
        "turnarounds": turnarounds(request.seat.school),
    }


def approve(request: SeatedRequest, pk: int) -> HttpResponse:
    """A head's word for the quote or the cost that the job's page showed."""
    seat = request.seat
    job = job_asked(request, pk)
    form = ApproveForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: give_word(job=job, by=request.user, at=request.now, **form.cleaned_data),
        to=seat.here("workshop:job", job.pk),
        said=lambda approved: (
            _s("%(currency)s approved.") % {"currency": money(approved.approved, seat.school.currency)}
        ),
    )


def job_invoice(request: SeatedRequest, pk: int) -> HttpResponse:
    """Keeps an invoice; a button beside one that is kept removes it."""
    seat = request.seat
    job = job_asked(request, pk)
    to = seat.here("workshop:job", job.pk)
    who: dict[str, Any] = {"job": job, "by": request.user, "at": request.now}
    if "remove" in request.POST:
        pressed = InvoicePressedForm(posted(request))
        return answer_elsewhere(
            request, pressed, lambda: remove_invoice(invoice=pressed.cleaned_data["remove"], **who), to=to
        )
    form = InvoiceForm(posted(request), posted_files(request), school=seat.school)
    return answer(
        request,
        form,
        lambda: keep_invoice(**form.cleaned_data, **who),
        page="workshop/job_invoice.html",
        shown=lambda: {"job": job, "horn": job.horn},
        said=lambda kept: (
            _s("The %(kept)s over %(currency)s is kept with the job.")
            % {"kept": kept, "currency": money(kept.amount, seat.school.currency)}
        ),
        then=lambda kept: to,
    )


def invoice(request: SeatedRequest, pk: int) -> HttpResponseBase:
    """The paper itself."""
    kept = get_object_or_404(Invoice.objects.select_related("job__horn"), job__horn__school=request.seat.school, pk=pk)
    if not kept.file:
        raise Http404("No file is kept with this invoice.")
    return paper_answer(kept.file, f"invoice-{kept.job.horn}")
