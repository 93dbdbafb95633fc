"""The bench list: which open jobs there are, in turn, and the turns of some of them with their rows."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date

from django.db.models import Max
from django.utils.translation import gettext as _s

from fleet.ground.paging import raw_values
from fleet.ground.refusal import WayOut
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.workshop.models import RepairJob, RepairJobQuerySet
from fleet.workshop.queries.bench import AT_ONCE, Turn, asked, reckoned
from fleet.workshop.queries.parts import Stock, stock_of


def turns(school: School, today: date, *, state: str = "", technician_id: int | None = None) -> list[Turn]:
    """The school's open jobs in the order that frees most. Seven queries for so many at a time, whatever their number.

    `technician_id` 0 asks for jobs that nobody has taken. The rows themselves are fetched by `with_jobs`, for one
    page of the list only.
    """
    stock = stock_of(school)
    return turns_of(in_turn(school, today, stock, state=state, technician_id=technician_id), school, today, stock)


def in_turn(
    school: School, today: date, stock: Stock, *, state: str = "", technician_id: int | None = None
) -> list[int]:
    """Their keys, of `turns`. One query where each has its turn kept and nothing lacks.

    What is kept lies under the lock of the job's horn. What does not is asked when it matters: the stock, who plays the
    stand-in.
    """

    def rows() -> RepairJobQuerySet:
        jobs = RepairJob.objects.at(school).open()
        if state:
            jobs = jobs.filter(state=state)
        if technician_id is not None:
            jobs = jobs.filter(technician_id=technician_id or None)
        return jobs.order_by("turn", "pk")

    told = raw_values(
        lambda: rows().values_list("pk", "turn", "wants", "stand_in"), like=("in turn", school.pk, state, technician_id)
    )
    # Few sorts of faults stand for thousands of jobs.
    lacks = {wants: bool(stock.missing(map(tuple, json.loads(wants)))) for wants in {wants for _, _, wants, _ in told}}
    anew = {key for key, turn, wants, stand_in in told if turn is None or stand_in is not None or lacks[wants]}
    if not anew:
        return [key for key, *_ in told]
    order = {key: (turn, key) for key, turn, *_ in told if key not in anew}
    order |= {turn.job_id: turn.order for turn in turns_of(sorted(anew), school, today, stock)}
    return sorted(order, key=order.__getitem__)


def turns_of(jobs: Sequence[int], school: School, today: date, stock: Stock) -> list[Turn]:
    """The turns of open jobs by their keys, in their order; a job closed meanwhile has none."""
    rows = {job.pk: job for start in range(0, len(jobs), AT_ONCE) for job in asked(jobs[start : start + AT_ONCE])}
    there = [rows[key] for key in jobs if key in rows]
    return reckoned(there, today, stock=stock, soon_days=school.soon_days)


def with_jobs(shown: Sequence[Turn]) -> list[Turn]:
    """The same turns with their rows and, in words, where their horns are, for the ones on the page; `seen` of a row is
    its newest step. One query."""
    jobs = RepairJob.objects.select_related("horn__place", "technician").annotate(seen=Max("steps"))
    rows = jobs.in_bulk([turn.job_id for turn in shown])
    there = [(turn, rows[turn.job_id]) for turn in shown if turn.job_id in rows]
    return [turn._replace(job=job, whereabouts=job.horn.whereabouts) for turn, job in there]


def waits_here(horn: Horn) -> WayOut | None:
    """What a label scanned leads a technician to: the job to start or to finish, or the check that a repair waits for.
    One query."""
    job = horn.jobs.filter(closed_at=None).values_list("pk", flat=True).first()
    if job is not None:
        return WayOut("workshop:job", _s("Go to the repair job"), (job,))
    to_be_checked = horn.mended_on is not None and horn.withdrawn_on is None
    return WayOut("workshop:check-new", _s("Check it"), (horn.pk,)) if to_be_checked else None
