"""A repair job: opened, read, changed."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _s

from fleet.ground.access import HEADS
from fleet.ground.addresses import way_back
from fleet.ground.answering import answer, posted
from fleet.ground.badges import money
from fleet.ground.wording import shortened
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.workshop.actions import jobs
from fleet.workshop.forms.bench import MoveForm
from fleet.workshop.forms.jobs import JobForm, JobNewForm
from fleet.workshop.forms.labour import ClockForm, WorkForm
from fleet.workshop.forms.parts import UseForm
from fleet.workshop.models import Finding, JobStep, RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.works import minded, works_on
from fleet.workshop.queries import bench
from fleet.workshop.queries.agreed import beside, findings_of, left_of, reckoned, turnarounds
from fleet.workshop.queries.condition import open_findings, with_measured_before
from fleet.workshop.queries.parts import stock_of
from fleet.workshop.queries.warranty import back_again
from fleet.workshop.queries.worth import Suggestion, cost_so_far, expected_cost, suggest, years_since

# Of notes that an open job does not have so many letters are said.
MOST_TOLD = 1000


def job_new(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    horn = get_object_or_404(Horn.objects.at(seat.school), pk=pk)
    there = horn.jobs.filter(closed_at=None).first()
    asked = request.GET.get("notes", "").strip()
    if there is not None and request.method != "POST":
        if asked:
            told = shortened(asked, MOST_TOLD)
            messages.warning(
                request,
                _s("%(horn)s has an open repair job. Its notes do not say this yet: “%(told)s”")
                % {"horn": horn, "told": told},
            )
        return redirect("workshop:job", seat.school.slug, there.pk)
    known = open_findings(horn)
    usual = bench.usual_minutes(known)
    # What a walk of checks found is written there already.
    notes = {"work_ordered": asked}
    form = JobNewForm(posted(request), known=known, school=seat.school, usual=usual, initial=notes)
    return answer(
        request,
        form,
        lambda: jobs.open_job(horn=horn, by=request.user, at=request.now, **form.cleaned_data),
        page="workshop/job_new.html",
        shown=lambda: {"horn": horn, "cautions": catalogue().cautions_for(finding.fault for finding in known)},
        said=_s("%(horn)s is on the bench list.") % {"horn": horn},
        then=lambda opened: seat.here("workshop:job", opened.pk),
    )


def job_asked(request: SeatedRequest, pk: int) -> RepairJob:
    return get_object_or_404(RepairJob.objects.at(request.seat.school).select_related("horn", "approved_by"), pk=pk)


def job(request: SeatedRequest, pk: int) -> HttpResponse:
    found = RepairJob.objects.at(request.seat.school).select_related("horn", "technician", "opened_by", "approved_by")
    found = found.prefetch_related("works")
    shown = get_object_or_404(found, pk=pk)
    findings = findings_of(shown)
    with_measured_before(shown.horn, findings, until=request.now)
    left = left_of(findings)
    steps = list(shown.steps.select_related("by"))
    seen = steps[-1].pk if steps else 0
    move = MoveForm(posted(request))
    if "do" in move.data:
        return answer(
            request,
            move,
            lambda: jobs.move_job(job=shown, by=request.user, at=request.now, **move.said),
            page="workshop/job.html",
            shown=lambda: {
                "form": _job_form(request, shown, left, seen=seen, sent=None),
                **_shown(request, shown, findings, left, steps, with_form=True),
            },
            said=_told,
            then=lambda moved: _after_tap(request, moved),
        )
    form = _job_form(request, shown, left, seen=seen, sent=posted(request))
    if form is None:
        context = {"form": None, **_shown(request, shown, findings, left, steps, with_form=False)}
        return render(request, "workshop/job.html", context)
    return answer(
        request,
        form,
        lambda: jobs.change_job(
            job=shown, by=request.user, at=request.now, seen=form.cleaned_data["seen"], work=form.work()
        ),
        page="workshop/job.html",
        shown=lambda: _shown(request, shown, findings, left, steps, with_form=True),
        said=_told,
        then=lambda changed: _after(request, changed),
        # Saving once more is then a decision taken with both versions in view.
        when_refused=lambda: form.beside(shown, seen),
    )


def _shown(
    request: SeatedRequest,
    job: RepairJob,
    findings: list[Finding],
    left: list[Finding],
    steps: list[JobStep],
    *,
    with_form: bool,
) -> dict[str, Any]:
    school = request.seat.school
    return {
        "job": job,
        "horn": job.horn,
        "findings": findings,
        "beside": beside(job),
        "reports": job.fault_reports.select_related("pupil"),
        "quotes": list(job.other_quotes.all()),
        "invoices": list(job.invoices.select_related("by")),
        "turnaround": turnarounds(school).get(job.repairer.casefold()) if job.repairer else None,
        "steps": steps,
        "seen": steps[-1].pk if steps else 0,
        **_labour_of(request, job, left, with_form=with_form),
        "back_again": back_again(job, findings, school),
        **_parts_of(request, job, left, with_form=with_form),
        "worth": _worth(request, job, left) if job.is_open and request.seat.role in HEADS else None,
        "needs_approval": job.needs_approval(school.approve_above),
        "main": _main(request, job, with_form=with_form),
    }


def _main(request: SeatedRequest, job: RepairJob, *, with_form: bool) -> str:
    """Which act is the next one, and alone in colour: "approve", "fetched", a "tap", "back" from outside, or "save"."""
    seat = request.seat
    if job.needs_approval(seat.school.approve_above) and seat.may("workshop:job-approve", write=True):
        return "approve"
    if not job.is_open and job.horn.on_bench and seat.may("workshop:job-fetched", write=True):
        return "fetched"
    if with_form and job.taps:
        return "tap"
    return "back" if job.state == RepairJob.State.AWAY else "save"


def _labour_of(request: SeatedRequest, job: RepairJob, left: list[Any], *, with_form: bool) -> dict[str, Any]:
    """The works ordered, the clock and its sittings, what to mind, and the form for another work. Three queries."""
    school, works, sittings = request.seat.school, list(job.works.all()), list(job.sittings.select_related("by"))
    form = WorkForm(known=works_on(job.horn), reckoned=reckoned(school), school=school) if with_form else None
    return {
        "works": works,
        "work_form": form if job.is_open else None,
        "sittings": sittings,
        "timed": sum(one.minutes or 0 for one in sittings),
        "running": any(one.by == request.user and one.ended_at is None for one in sittings),
        "clock": ClockForm(),
        "cautions": minded((one.work for one in works), (finding.fault for finding in left)),
    }


def _parts_of(request: SeatedRequest, job: RepairJob, left: list[Any], *, with_form: bool) -> dict[str, Any]:
    """Parts that are in the job, those its faults want in vain, and the form for taking more. Two queries."""
    shelf = stock_of(request.seat.school)
    used = list(job.parts_used.select_related("part"))
    had = Counter[int]()
    for one in used:
        had[one.part_id] += one.count
    faults = [(finding.fault, finding.count) for finding in left]
    # What the faults want comes first, then whatever lies there.
    wanted = next((part for part, _ in shelf.wanting(faults, used=had)), None) or next(
        (part for part in shelf.parts if part.on_hand), None
    )
    use = (
        UseForm(parts=shelf.parts, initial={"part": wanted.pk if wanted else None})
        if with_form and shelf.parts
        else None
    )
    return {"used": used, "use": use, "missing": shelf.missing(faults, used=had) if job.is_open else ()}


def _worth(request: SeatedRequest, job: RepairJob, left: list[Any]) -> Suggestion:
    """Mend or replace, for those who may know what a horn is worth. Three queries."""
    school, horn = request.seat.school, job.horn
    # Work that has a price costs that, whatever the hour costs.
    works = list(job.works.all())
    unpriced = [one for one in works if one.price is None]
    minutes = job.minutes if job.minutes is not None else bench.usual_minutes([*left, *unpriced])
    agreed = sum((one.price for one in works if one.price is not None), Decimal(0))
    parts = stock_of(school).wanted((finding.fault, finding.count) for finding in left).items()
    return suggest(
        so_far=cost_so_far(horn),
        expected=expected_cost(job, school, minutes=minutes, parts=parts, agreed=agreed),
        value=horn.insured[0],
        age=years_since(horn.acquired_on, request.today),
    )


def _job_form(
    request: SeatedRequest, shown: RepairJob, left: list[Any], *, seen: int, sent: QueryDict | None
) -> JobForm | None:
    """The form for those who may change an open job. A change to one that was closed meanwhile is still read,
    so that it can be answered."""
    if not request.seat.may("workshop:job", write=True) or (not shown.is_open and request.method != "POST"):
        return None
    return JobForm(
        sent,
        school=request.seat.school,
        usual=bench.usual_minutes([*left, *shown.works.all()]),
        initial={"seen": seen, **{name: getattr(shown, name) for name in jobs.NAMES}},
    )


def _told(changed: RepairJob) -> str:
    if changed.state == RepairJob.State.DONE:
        return _s("The job is done. Play the horn and check it now: the check sets its grade.")
    return _s("The job is saved: %(state)s.") % {"state": changed.get_state_display()}


def _after(request: SeatedRequest, changed: RepairJob) -> str:
    """Where a change leads on to, with what waits for a head."""
    seat = request.seat
    if changed.needs_approval(seat.school.approve_above):
        asked = money(changed.asked, seat.school.currency)
        messages.warning(
            request,
            (
                _s("The cost of %(asked)s waits for a head’s word.")
                if changed.asks_with == "cost"
                else _s("The quote of %(asked)s waits for a head’s word.")
            )
            % {"asked": asked},
        )
    if changed.state == RepairJob.State.DONE:
        query = urlencode({"occasion": "after-repair", "next": seat.here("workshop:bench")})
        return f"{seat.here('workshop:check-new', changed.horn_id)}?{query}"
    return seat.here("workshop:job", changed.pk) if changed.is_open else seat.here("workshop:bench")


def _after_tap(request: SeatedRequest, moved: RepairJob) -> str:
    """A tap on the bench list leads back to it; what is done goes on to its check."""
    on = _after(request, moved)
    return way_back(request, on) if moved.is_open else on
