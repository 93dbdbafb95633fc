"""Prints of the bench: the repair list, a job's ticket, and a horn before and after its repair."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _s
from django.utils.translation import override

from fleet.ground.addresses import whole
from fleet.ground.answering import answer, posted
from fleet.mail.queries import has_server
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.paper.condition_report import condition_report_drawn
from fleet.reports.paper.job_ticket import job_ticket_drawn, tags_drawn
from fleet.reports.paper.lists import orders_drawn
from fleet.reports.paper.repair_list import MOST, bench_day_drawn, repair_list_drawn
from fleet.reports.queries.before_and_after import before_and_after
from fleet.reports.queries.order import Order, last_address, order_in_words, order_of
from fleet.reports.sheet.page import as_pdf, paper_asked
from fleet.workshop.actions.billing import send_order
from fleet.workshop.forms.bench import BenchFilter, VisitForm
from fleet.workshop.forms.billing import OrderForm
from fleet.workshop.models import Part, RepairJob
from fleet.workshop.queries import in_turn
from fleet.workshop.queries.agreed import findings_of
from fleet.workshop.queries.bench_day import bench_day
from fleet.workshop.queries.parts import by_supplier
from fleet.workshop.queries.visit import plan


def condition_report(request: SeatedRequest, pk: int) -> HttpResponse:
    school = request.seat.school
    job = get_object_or_404(RepairJob.objects.at(school).select_related("horn"), pk=pk)
    before, after = before_and_after(job)
    paper = paper_asked(request, school)
    content = condition_report_drawn(job, before, after, school=school, paper=paper, now=request.now)
    return as_pdf(content, f"condition-{job.horn}")


def job_ticket(request: SeatedRequest, pk: int) -> HttpResponse:
    job = _job(request, pk)
    if request.GET.get("as") == "order":
        with override(request.seat.school.language_of_staff):
            return as_pdf(_order_drawn(request, order_of(job)), f"order-{job.horn}")
    used = list(job.parts_used.select_related("part"))
    content = job_ticket_drawn(job, findings_of(job), used, **_on_paper(request, job))
    return as_pdf(content, f"job-{job.horn}")


def job_order(request: SeatedRequest, pk: int) -> HttpResponse:
    """The order to the repairer by e-mail, as the print shows it."""
    seat, job = request.seat, _job(request, pk)
    last = job.steps.last()
    form = OrderForm(
        posted(request), initial={"seen": last.pk if last else 0, "address": job.order_to or last_address(job)}
    )

    def send() -> RepairJob:
        with override(seat.school.language_of_staff):
            order = order_of(job)
            subject = _s("Repair order %(horn)s, %(school)s") % {"horn": job.horn, "school": seat.school.name}
            words = order_in_words(order, seat.school, form.cleaned_data["words"])
            paper = _order_drawn(request, order)
        return send_order(
            job=RepairJob.objects.select_related("horn__school").get(pk=job.pk),
            address=form.cleaned_data["address"],
            subject=subject,
            words=words,
            paper=paper,
            by=request.user,
            at=request.now,
            seen=form.cleaned_data["seen"],
        )

    return answer(
        request,
        form,
        send,
        page="reports/job_order.html",
        shown=lambda: {"job": job, "horn": job.horn, "has_server": has_server()},
        said=lambda sent: _s("The order goes to %(address)s.") % {"address": sent.order_to},
        then=lambda sent: seat.here("workshop:job", job.pk),
        when_refused=lambda: form.go_on_from(form.initial["seen"]),
    )


def _job(request: SeatedRequest, pk: int) -> RepairJob:
    people = ("horn__place", "technician")
    return get_object_or_404(RepairJob.objects.at(request.seat.school).select_related(*people), pk=pk)


def _order_drawn(request: SeatedRequest, order: Order) -> bytes:
    return job_ticket_drawn(
        order.job, order.findings, (), order=True, photographs=order.photographs, **_on_paper(request, order.job)
    )


def _on_paper(request: SeatedRequest, job: RepairJob) -> dict[str, Any]:
    school = request.seat.school
    return {
        "school": school,
        "address": request.build_absolute_uri(reverse("workshop:job", args=(school.slug, job.pk))),
        "today": request.today,
        "paper": paper_asked(request, school),
        "works": list(job.works.all()),
    }


def job_tags(request: SeatedRequest) -> HttpResponse:
    """Tags for the handles: of the one open `job` asked for, else of all whose horns are here."""
    school, today = request.seat.school, request.today
    asked = whole(request.GET.get("job", ""))
    wanted = [
        turn for turn in in_turn.turns(school, today) if (turn.is_here if asked is None else turn.job_id == asked)
    ]
    content = tags_drawn(
        [
            (turn, request.build_absolute_uri(request.seat.here("workshop:job", turn.job_id)))
            for turn in in_turn.with_jobs(wanted)
        ],
        school=school,
        today=today,
        paper=paper_asked(request, school),
    )
    return as_pdf(content, "bench-tags")


def repair_list(request: SeatedRequest) -> HttpResponse:
    """Open jobs as the bench page shows them, the same filters, on the school's paper or the one asked for.

    `today` in the address, minutes of a visit, prints that visit's set only; `by` (place, technician) sorts the jobs
    under headings, the order of the bench within each.
    """
    school, today = request.seat.school, request.today
    state, technician_id = BenchFilter(request.GET).asked(request.user)
    turns = in_turn.with_jobs(in_turn.turns(school, today, state=state, technician_id=technician_id))
    visit = VisitForm({"minutes": request.GET.get("today")})
    planned = plan(turns, visit.cleaned_data["minutes"]) if visit.is_valid() else None
    paper = paper_asked(request, school)
    content = repair_list_drawn(
        planned.chosen if planned else turns,
        school=school,
        today=today,
        paper=paper,
        by=request.GET.get("by", ""),
        visit=planned,
    )
    return as_pdf(content, f"repair-list-{today:%Y-%m-%d}")


def bench_day_on_paper(request: SeatedRequest) -> HttpResponse:
    """The day on one page: the set of the visit where `minutes` are given, else the bench list from its top."""
    school, today = request.seat.school, request.today
    turns = in_turn.turns(school, today)
    visit = VisitForm({"minutes": request.GET.get("minutes")})
    planned = plan(turns, visit.cleaned_data["minutes"]) if visit.is_valid() else None
    paper = paper_asked(request, school)
    beside = bench_day(school, today)
    chosen = planned.chosen if planned else turns
    # The page names the first few of them, and counts the others.
    first = in_turn.with_jobs([turn for turn in chosen if turn.is_here][: MOST["jobs"]])
    content = bench_day_drawn(chosen, first, beside, school=school, today=today, paper=paper, visit=planned)
    return as_pdf(content, f"bench-day-{today:%Y-%m-%d}")


def order_list(request: SeatedRequest) -> HttpResponse:
    """What is short and not on its way, a heading a supplier."""
    school, today = request.seat.school, request.today
    paper = paper_asked(request, school)
    content = orders_drawn(by_supplier(Part.objects.at(school).to_order()), school=school, today=today, paper=paper)
    return as_pdf(content, f"order-list-{today:%Y-%m-%d}")
