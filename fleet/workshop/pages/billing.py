"""Invoices beside their job."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404

from fleet.ground.answering import answer, answer_elsewhere, posted, posted_files
from fleet.ground.badges import money
from fleet.ground.files.given import paper_answer
from fleet.people.queries.seats import SeatedRequest
from fleet.workshop.actions.billing import keep_invoice, remove_invoice
from fleet.workshop.forms.billing import InvoiceForm, InvoicePressedForm
from fleet.workshop.models import Invoice, RepairJob


def job_invoice(request: SeatedRequest, pk: int) -> HttpResponse:
    """Keeps an invoice; a button beside one that is kept removes it."""
    seat = request.seat
    job = get_object_or_404(RepairJob.objects.at(seat.school).select_related("horn"), pk=pk)
    to = seat.here("workshop:job", job.pk)
    who = {"job": job, "by": request.user, "at": request.now}
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
        said=lambda kept: f"The {kept} over {money(kept.amount, seat.school.currency)} is kept with the job.",
        then=lambda kept: to,
    )


def invoice(request: SeatedRequest, pk: int) -> HttpResponseBase:
    """The paper itself."""
    kept = get_object_or_404(Invoice.objects.select_related("job__horn"), job__horn__school=request.seat.school, pk=pk)
    if not kept.file:
        raise Http404("No file is kept with this invoice.")
    return paper_answer(kept.file, f"invoice-{kept.job.horn}")
