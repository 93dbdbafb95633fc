"""The bench list: which open jobs there are, in turn, and the turns of some of them with their rows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import lru_cache

from django.db.models import Max, Q, QuerySet
from django.utils.translation import gettext as _s

from fleet.ground.paging import fetched, raw_values
from fleet.ground.refusal import WayOut
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.workshop.models import RepairJob
from fleet.workshop.queries.bench import AT_ONCE, Turn, asked, reckoned
from fleet.workshop.queries.parts import Stock, stock_of


def turns(school: School, today: date, *, state: str = "", technician_id: int | None = None) -> list[Turn]:
    """The school's open jobs in the order that frees most. Seven queries for so many at a time, whatever their number.

    `technician_id` 0 asks for jobs that nobody has taken. The rows themselves are fetched by `with_jobs`, for one
    page of the list only.
    """
    return turns_of(in_turn(school, state=state, technician_id=technician_id), school, today, stock_of(school))


def in_turn(school: School, *, state: str = "", technician_id: int | None = None) -> list[int]:
    """Their keys, of `turns`, in the turns they keep. One query."""

    def rows() -> QuerySet[RepairJob, tuple[int]]:
        jobs = RepairJob.objects.at(school).open()
        if state:
            jobs = jobs.filter(state=state)
        if technician_id is not None:
            jobs = jobs.filter(technician_id=technician_id or None)
        return jobs.order_by("turn", "pk").values_list("pk")

    return [key for (key,) in raw_values(rows, like=("in turn", school.pk, state, technician_id))]


def jobs_of(horns: Sequence[int]) -> list[int]:
    """Keys of the open jobs of these horns, and of those for which one of these is played meanwhile. One query."""
    return [key for (key,) in fetched(_of_so_many(len(horns)), [*horns, *horns])] if horns else []


@lru_cache(maxsize=64)
def _of_so_many(horns: int) -> str:
    """Put together once: that takes longer than to run it, and it runs in every action."""
    which = Q(horn__in=range(horns)) | Q(stand_in__in=range(horns))
    return RepairJob.objects.open().filter(which).order_by().values_list("pk").query.sql_with_params()[0]


def kept_otherwise(jobs: Iterable[int]) -> Iterator[tuple[RepairJob, int, list[list[str | int]]]]:
    """Those of these open jobs that keep another turn or other wants than their rows say, each with what it is to keep.
    Seven queries a school for so many at a time, one where none is open."""
    of_school: dict[int | None, list[RepairJob]] = defaultdict(list)
    keys = list(jobs)
    for start in range(0, len(keys), AT_ONCE):
        for job in asked(keys[start : start + AT_ONCE]):
            of_school[job.school_id].append(job)
    for school, there in of_school.items():
        # A rank hangs on no day.
        for job, turn in zip(there, reckoned(there, date.min, stock=stock_of(school), soon_days=0), strict=True):
            wants: list[list[str | int]] = [[one.fault, one.count] for one in turn.faults]
            if (job.turn, job.wants) != (turn.rank, wants):
                yield job, turn.rank, wants


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
