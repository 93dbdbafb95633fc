"""The order of the bench: whose turn it is, and why, in words a technician can check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from enum import IntEnum
from typing import Any, NamedTuple

from django.db.models import F, FilteredRelation, Q
from django.utils.translation import gettext as _s

from fleet.ground.due import DueDay
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import ByKey
from fleet.ground.wording import minutes as in_minutes
from fleet.ground.wording import short_day
from fleet.register.models import Horn
from fleet.register.models.kept import Whereabouts
from fleet.register.queries.kept import where_kept
from fleet.workshop.models import FaultReport, Finding, Part, PartUsed, RepairJob, WorkOrdered
from fleet.workshop.models.faults import WEIGHT, Fault
from fleet.workshop.models.works import KnownWork
from fleet.workshop.queries.agreed import found_on_jobs
from fleet.workshop.queries.parts import Stock

STOPS = {
    "x": _s_lazy("must not be played"),
    "r": _s_lazy("stops a loan"),
    "w": _s_lazy("small fault"),
    "n": _s_lazy("note only"),
}
GONE = {
    Horn.Where.WITHDRAWN.value: _s_lazy("the horn is withdrawn: give the job up"),
    Horn.Where.NOT_FOUND.value: _s_lazy("the horn cannot be found"),
}
# Where nobody here can work on a horn, the soonest to be had first.
NOT_HERE = {Horn.Where.OUT.value: 1, "away": 2, **dict.fromkeys(GONE, 3)}
IN_ITS_PLACE = Whereabouts(Horn.Where.IN_PLACE.value, "")
# In minutes, what no work takes.
LONGEST = 999_999
# So many jobs are asked about at a time.
AT_ONCE = 500
# What the order and its words ask of a job and its horn: jobs are many, and a page shows few.
COLUMNS = (
    *("school_id", "horn_id", "state", "minutes", "bring_on", "turn", "wants"),
    *("horn__grade", "horn__due_on", "horn__noted_back", "horn__where", "stand_in__number"),
)
_OUT, _MEANWHILE = (
    FilteredRelation(loans, condition=Q(**{f"{loans}__returned_on": None}))
    for loans in ("horn__loans", "stand_in__loans")
)
# `held_by` and `plays_meanwhile` are pupils' keys: two may have one name, and one may get another.
asked = ByKey(
    RepairJob.objects.open()
    .order_by()
    .annotate(out=_OUT, meanwhile=_MEANWHILE, held_by=F("out__pupil"), plays_meanwhile=F("meanwhile__pupil")),
    *COLUMNS,
)
_REPORTS = ByKey(
    FaultReport.objects.filter(Q(answered_at=None) | Q(job__isnull=False, job__closed_at=None)).order_by(),
    *("horn_id", "still_plays", "pupil_id"),
    by=("horn",),
)
_USED = ByKey(PartUsed.objects.order_by(), "job_id", "part_id", "count", by=("job",))
_WORKS = ByKey(WorkOrdered.objects.order_by("pk"), "job_id", "work", "minutes", by=("job",))


class Waiting(IntEnum):
    """Who waits for the horn, the most urgent first."""

    HANDED_IN = 0
    FAMILY = 1
    SWAPPED = 2
    LOAN_ENDS_SOON = 3
    NOBODY = 4


WAITING = {Waiting.HANDED_IN: _s_lazy("its pupil handed it in and waits"), Waiting.FAMILY: _s_lazy("family waiting")}


class Turn(NamedTuple):
    """An open job's place on the bench.

    `minutes` is None where nobody can say beforehand, and `more` says that some of the faults have no usual time.
    `wants` are the parts its faults want that are not in the job yet, with how many; `missing` names those of which the
    stock has too few; `whereabouts` says where its horn really is, in words once it has its job, `stand_in` which horn
    its pupil plays meanwhile.
    """

    job_id: int
    state: str
    severity: str
    waiting: Waiting
    due: DueDay | None
    minutes: int | None
    # Those still to be mended.
    faults: tuple[Finding, ...]
    nothing_left: bool
    works: tuple[KnownWork, ...] = ()
    more: bool = False
    wants: tuple[tuple[Part, int], ...] = ()
    missing: tuple[str, ...] = ()
    whereabouts: Whereabouts = IN_ITS_PLACE
    stand_in: str = ""
    bring_on: date | None = None
    job: RepairJob | None = None

    @property
    def order(self) -> tuple[Any, ...]:
        """What can be worked on before what waits for parts, and last what is not here: with a family, at the
        repairer's, gone; then the heaviest fault, who waits, the nearest due date, the shortest work, the oldest job.
        """
        return self.rank, self.job_id

    @property
    def rank(self) -> int:
        """The order as one number that databases can sort by, less the oldest job; it hangs on no day: whose loan ends
        soon is due before those whose loan does not."""
        due = (self.due.on if self.due else date.max).isoformat().replace("-", "")
        figures = (
            0 if self.is_here else NOT_HERE.get(self.whereabouts.code, 0),
            int(self.held_up),
            9 - WEIGHT[self.severity],
            min(self.waiting, Waiting.LOAN_ENDS_SOON),
        )
        minutes = LONGEST if self.minutes is None else min(self.minutes, LONGEST - 1)
        return int(f"{''.join(map(str, figures))}{due}{minutes:06}")

    @property
    def is_here(self) -> bool:
        """Whether the horn is where somebody of the school could work on it."""
        return self.whereabouts.is_here

    @property
    def may_be_moved(self) -> bool:
        """Whether the list offers to move it: where it is here, or a family may be bringing it just now."""
        return self.is_here or self.whereabouts.code == Horn.Where.OUT

    @property
    def gone(self) -> str:
        """Why there is no horn to mend; "" where there is one."""
        return str(GONE.get(self.whereabouts.code, ""))

    @property
    def held_up(self) -> bool:
        """Whether a part must come before it can be worked on."""
        return self.state == RepairJob.State.PARTS or bool(self.missing)

    @property
    def can_begin(self) -> bool:
        """Whether it can be worked on here and now: what minutes and the visit count."""
        return self.is_here and not self.held_up

    @property
    def time(self) -> str:
        if self.minutes is None:
            return _s("time not known")
        return _s("%(minutes)s min or more") % {"minutes": self.minutes} if self.more else in_minutes(self.minutes)

    @property
    def to_do(self) -> str:
        """For a line of paper: what is ordered, else the faults, else what comes first. Of a turn that has its job."""
        first = _s("check it and close the job") if self.nothing_left else _s("no fault is named: check it first")
        works = [_s(one.words) for one in self.works]
        faults = [one.noted for one in self.faults]
        return "; ".join([*works, self.ordered] if self.ordered else [*works, *faults]) or first

    @property
    def ordered(self) -> str:
        """The work ordered in words. Of a turn that has its job."""
        return self.job.work_ordered if self.job else ""

    @property
    def _weighs(self) -> str:
        if self.nothing_left:
            return _s("nothing left to mend: close the job")
        if not self.faults and self.severity == "w":
            return _s("work ordered") if self.works or self.ordered else ""
        return STOPS[self.severity]

    @property
    def why(self) -> str:
        """The order in words: "stops a loan · family waiting · due back 3 Oct · 15 min"."""
        if self.gone:
            return self.gone
        told = [self._weighs]
        if self.waiting in WAITING:
            told.append(WAITING[self.waiting])
        if self.waiting is Waiting.SWAPPED:
            told.append(_s("its pupil plays %(stand_in)s meanwhile") % {"stand_in": self.stand_in})
        if self.due:
            late = f", {self.due.words}" if self.due.is_over else ""
            told.append(_s("due back %(day)s") % {"day": short_day(self.due.on, self.due.today)} + late)
        if not self.nothing_left:
            told.append(self.time)
        if self.bring_on and self.whereabouts.is_with_family:
            told.append(_s("to be brought %(day)s") % {"day": short_day(self.bring_on, self.bring_on)})
        if self.state == RepairJob.State.PARTS:
            told.append(_s("waiting for parts"))
        told += [_s("no %(missing)s left") % {"missing": name} for name in self.missing]
        return " · ".join(str(one) for one in told if one)


def reckoned(jobs: Sequence[RepairJob], today: date, *, stock: Stock, soon_days: int) -> list[Turn]:
    """The turns of open jobs (`asked` or `asked_of`), in their order. Four queries for so many at a time, whatever
    their number."""
    told = []
    for start in range(0, len(jobs), AT_ONCE):
        told += _reckoned(jobs[start : start + AT_ONCE], today, stock, soon_days)
    return told


def _reckoned(jobs: Sequence[RepairJob], today: date, stock: Stock, soon_days: int) -> list[Turn]:
    keys = [job.pk for job in jobs]
    found = found_on_jobs(keys)
    reported: dict[int, list[tuple[bool, int | None]]] = defaultdict(list)
    for report in _REPORTS([job.horn_id for job in jobs]):
        reported[report.horn_id].append((report.still_plays, report.pupil_id))
    used: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for part in _USED(keys) if stock.parts else ():
        used[part.job_id][part.part_id] += part.count
    ordered: dict[int, list[WorkOrdered]] = defaultdict(list)
    for work in _WORKS(keys):
        ordered[work.job_id].append(work)
    in_turn = []
    for job in jobs:
        due = job.horn.due(today)
        soon = due is not None and due.is_near(soon_days)
        works, had, told = ordered.get(job.pk, []), used.get(job.pk, {}), reported.get(job.horn_id, [])
        in_turn.append(_turn(job, found.get(job.pk, []), works, stock, had, due, told, soon))
    return in_turn


def usual_minutes(faults: Sequence[Fault | Finding | WorkOrdered]) -> int | None:
    """Their usual times added up, None where none of them has one."""
    known = [fault.minutes for fault in faults if fault.minutes is not None]
    return sum(known) if known else None


def _turn(
    job: RepairJob,
    findings: list[Finding],
    works: list[WorkOrdered],
    stock: Stock,
    used: Mapping[int, int],
    due: DueDay | None,
    told: Sequence[tuple[bool, int | None]],
    soon: bool,
) -> Turn:
    minutes, horn, stand_in = job.minutes, job.horn, job.stand_in
    still = (one for one in findings if one.mended_at is None and not one.left_out)  # type: ignore[attr-defined]
    left = sorted(still, key=lambda one: (-WEIGHT[one.severity], one.fault))
    nothing_left = bool(findings) and not left and not works
    severity = left[0].severity if left else ""
    if nothing_left:
        # Closing it costs nothing; while it lies on the bench it still keeps the horn from being lent.
        severity, minutes = ("r" if job.state in RepairJob.IN_THE_WORKSHOP else "n"), 0
    elif not severity:
        # No check has named a fault yet: the family's word and the horn's grade are all there is.
        stopped = not all(plays for plays, _ in told) or (horn.grade or 0) >= Horn.Grade.REPAIR_FIRST
        severity = "r" if stopped else "w"
    more = False
    if minutes is None:
        timed: list[Finding | WorkOrdered] = [*left, *works]
        minutes = usual_minutes(timed)
        more = any(one.minutes is None for one in timed)
    wants = stock.wanting(((one.fault, one.count) for one in left), used=used)
    return Turn(
        job.pk,
        job.state,
        severity,
        _waiting(told, holder=job.held_by, swapped=job.plays_meanwhile, soon=soon),  # type: ignore[attr-defined]
        due,
        minutes,
        tuple(left),
        nothing_left,
        tuple(one.entry for one in works),
        more,
        wants,
        tuple(part.name for part, count in wants if part.on_hand < count),
        where_kept(horn.where, horn.noted_back),
        stand_in.number if stand_in else "",
        job.bring_on,
    )


def _waiting(
    told: Sequence[tuple[bool, int | None]], *, holder: int | None, swapped: int | None, soon: bool
) -> Waiting:
    """`told` holds, for each family's report, whether the horn still plays and which pupil's it is; `swapped` is who
    has the horn that went out in its place."""
    if any(pupil and pupil not in {holder, swapped} for _, pupil in told):
        return Waiting.HANDED_IN
    if any(not swapped or pupil != swapped for _, pupil in told):
        return Waiting.FAMILY
    if swapped:
        return Waiting.SWAPPED
    return Waiting.LOAN_ENDS_SOON if soon else Waiting.NOBODY
