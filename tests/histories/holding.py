"""What must hold of a small school after every act."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from django.db import connection, models
from django.utils import timezone

from fleet.exchange.queries.whole_school import tables
from fleet.lending.models import Loan, Wish
from fleet.letters.models import Letter
from fleet.people.models import School
from fleet.record.actions.sealing import seal
from fleet.record.queries.proving import proof_of
from fleet.register.models import Horn, Standing
from fleet.register.queries.kept import KEPT, as_told, differences
from fleet.signing.models import OnlineSignature
from fleet.workshop.models import Care, Finding, RepairJob
from fleet.workshop.models.faults import catalogue
from fleet.workshop.queries.in_turn import kept_otherwise, turns
from tests import make

DAYS = [column for column in KEPT if isinstance(Horn._meta.get_field(column), models.DateField)]
ASK_FOR_THE_TEST_NOTE = {fault.code for fault in catalogue().by_code.values() if fault.test_note}


def faults_of_the_record(school: School) -> list[str]:
    """What the school's chain of acts does not prove, once the last of them are sealed."""
    seal(school=school.pk)
    return [f"the record: {sentence}" for sentence in proof_of(school.pk).wrong]


def no_fault(faults: Sequence[str]) -> None:
    # Plain `assert` says what was compared in test modules only.
    assert not faults, "\n".join(faults)


def faults_of(school: School) -> list[str]:
    """Everything that does not hold, in a sentence each: the horns against their rows, and against each other."""
    faults = [f"{horn}: {sentence}" for horn in _horns_as_told(school.pk) for sentence in _faults(horn)]
    return faults + list(_faults_of_the_bench(school))


def _faults_of_the_bench(school: School) -> Iterator[str]:
    """Where open jobs do not lie in turn, or keep what their rows do not say."""
    in_turns = turns(school, make.TODAY)
    if in_turns != sorted(in_turns, key=lambda turn: turn.order):
        yield f"the bench is in the order {[turn.order for turn in in_turns]}"
    jobs = [turn.job_id for turn in in_turns]
    if {*jobs} != {job.pk for job in RepairJob.objects.open().filter(horn__school=school)}:
        yield "a job is of another school than its horn"
    for job, turn, wants in kept_otherwise(jobs):
        yield f"job {job.pk} keeps its turn as {job.turn} with {job.wants}, and is {turn} with {wants}"


def _horns_as_told(school: int) -> Iterator[Any]:
    for horn in Horn.objects.raw(*_query(school)):
        for column in DAYS:
            # A query in words gives what the engine has: on SQLite a day is text.
            told = getattr(horn, f"told_{column}")
            setattr(horn, f"told_{column}", date.fromisoformat(told) if isinstance(told, str) else told)
        yield horn


@lru_cache(maxsize=8)
def _query(school: int) -> tuple[str, tuple[Any, ...]]:
    """The query of reconcile, put together once: that takes longer than to run it, and it runs after every act."""
    return as_told(Horn.objects.filter(school=school)).query.sql_with_params()


def _faults(horn: Any) -> Iterator[str]:
    for column, (kept, told) in differences(horn).items():
        yield f"{column} is kept as {kept!r}, reconcile reads {told!r}"
    if horn.search != horn.searched_in():
        yield f"is searched in as {horn.search!r} instead of {horn.searched_in()!r}"
    if horn.holder_name and (horn.withdrawn_on or horn.not_found_on or horn.on_bench):
        yield f"is out with {horn.holder_name} and somewhere else too"
    if horn.withdrawn_on and horn.promised_to:
        yield f"is withdrawn and promised to {horn.promised_to}"
    if horn.repairer and not horn.on_bench:
        yield f"is at {horn.repairer} and not in the workshop"
    if bool(horn.may_be_lent) != (not horn.kept_back):
        yield f"may be lent: {horn.may_be_lent}, and is kept back by {[one.code for one in horn.kept_back]}"
    if horn.stands_in and not horn.build:
        yield "stands in a key and is no kind of horn"


def snapshot(school: School) -> list[list[tuple[Any, ...]]]:
    """Every row of a school as the database has it, to be held against a later one."""
    found = []
    with connection.cursor() as cursor:
        for query in _every_row(school.pk):
            cursor.execute(*query)
            found.append(cursor.fetchall())
    return found


@lru_cache(maxsize=8)
def _every_row(school: int) -> list[tuple[str, tuple[Any, ...]]]:
    whole = School.objects.get(pk=school)
    return [table.rows_of(whole).values_list().query.sql_with_params() for table in tables()]


def faults_read_plainly(school: School) -> list[str]:
    """The kept columns against the rows once more, read without a word of SQL, and what one horn may have once."""
    elsewhere = [wish for wish in Wish.objects.filter(pupil__school=school) if wish.school_id != school.pk]
    lost = [letter for letter in Letter.objects.filter(guardian__school=school) if letter.school_id != school.pk]
    found = Finding.objects.filter(check_made__horn__school=school).exclude(school=school)
    return [
        *(f"{horn}: {sentence}" for horn in Horn.objects.at(school) for sentence in _faults_read_plainly(horn)),
        *(f"{wish}, and is said to wait at another school" for wish in elsewhere),
        *(f"The letter {letter} is said to be another school’s" for letter in lost),
        *(f"{finding} is said to be found at another school" for finding in found),
    ]


def _faults_read_plainly(horn: Horn) -> Iterator[str]:
    told = _read_plainly(horn)
    for column in KEPT:
        if getattr(horn, column) != told[column]:
            yield f"{column} is kept as {getattr(horn, column)!r}, its rows say {told[column]!r}"
    if len([loan for loan in horn.loans.all() if loan.returned_on is None]) > 1:
        yield "is with two pupils"
    if {loan.school_id for loan in horn.loans.all()} - {horn.school_id}:
        yield "is lent by another school than its own"
    if len({one.pupil_id for one in OnlineSignature.objects.unused().filter(horn=horn)}) > 1:
        yield "waits for two pupils"
    if len([job for job in horn.jobs.all() if job.closed_at is None]) > 1:
        yield "has two open jobs"


def _read_plainly(horn: Horn) -> dict[str, Any]:
    loans = list(horn.loans.select_related("pupil"))
    running = [loan for loan in loans if loan.returned_on is None]
    ended = sorted((loan for loan in loans if loan.returned_on), key=lambda loan: (loan.returned_on, loan.pk))
    jobs = list(horn.jobs.all())
    here = [job for job in jobs if job.state in RepairJob.IN_THE_WORKSHOP]
    checks = sorted(horn.checks.all(), key=lambda check: (check.at, check.pk))
    last_look = checks[-1] if checks else None
    done = [job for job in jobs if job.state == RepairJob.State.DONE and job.closed_at]
    untried = [job.closed_at for job in done if job.closed_at and not (last_look and last_look.at >= job.closed_at)]
    if any(job.closed_at is None for job in jobs):
        # It is being mended again: what was mended before is tried with that.
        untried = []
    waiting = OnlineSignature.objects.unused().filter(horn=horn).select_related("pupil").order_by("asked_at", "pk")
    promised = list(waiting)
    return {
        "holder_name": running[0].pupil.name if running else "",
        "holder_group": running[0].pupil.group if running else "",
        "due_on": running[0].due_on if running else None,
        "noted_back": any(hasattr(loan, "noted") for loan in running),
        "recalled": any(loan.recall for loan in running),
        "back_on": max((loan.returned_on for loan in ended if loan.returned_on), default=None),
        "mouthpiece_owed": bool(ended) and ended[-1].mouthpiece_cleaned_on is None,
        "on_bench": bool(here),
        "repairer": next((job.repairer for job in here if job.state == RepairJob.State.AWAY), ""),
        "grade": last_look.grade if last_look else None,
        "checked_on": timezone.localdate(last_look.at) if last_look else None,
        "mended_on": timezone.localdate(max(untried)) if untried else None,
        "test_note_owed": _test_note_owed(horn),
        "withdrawn_on": _since(horn, (Standing.Kind.WITHDRAWN, Standing.Kind.STRUCK_OUT), Standing.Kind.KEPT_AGAIN),
        "not_found_on": _since(horn, (Standing.Kind.NOT_FOUND,), Standing.Kind.FOUND),
        "struck_out": _struck_out(horn),
        "promised_to": promised[-1].pupil.name if promised else "",
        "teaches": _teaches(horn),
        **_cared_for(horn, ended),
    }


def _cared_for(horn: Horn, ended: list[Loan]) -> dict[str, Any]:
    back = [loan.returned_on for loan in ended if loan.returned_on]
    had = {kind: [care.on for care in horn.care.all() if care.kind == kind] for kind in Care.Kind.values}
    cleaned, serviced = max(had["clean"], default=None), max(had["service"], default=None)

    def played(since: date | None) -> int:
        begun = [max(loan.issued_on, since or date.min) for loan in ended]
        return sum(max(0, (end - first).days) for first, end in zip(begun, back, strict=True))

    return {
        "oiled_on": max(had["oil"], default=None),
        "cleaned_on": cleaned,
        "serviced_on": serviced,
        "exercised_on": max([*had["exercise"], *back], default=None),
        "played_since_cleaned": played(cleaned),
        "played_since_serviced": played(serviced),
    }


def _teaches(horn: Horn) -> bool:
    walks = sorted(horn.identifications.all(), key=lambda walk: (walk.at, walk.pk))
    alike = [walk for walk in walks if walk.settled and walk.teaches and walk.build == horn.build]
    twice = any(
        one.by_id != other.by_id or other.at - one.at >= timedelta(hours=12) for one in alike for other in alike
    )
    return twice and walks[-1].build == horn.build


def _test_note_owed(horn: Horn) -> bool:
    asked = [change.at for change in horn.stand_changes.all()]
    for check in horn.checks.prefetch_related("findings"):
        asked += [one.mended_at for one in check.findings.all() if one.mended_at and one.fault in ASK_FOR_THE_TEST_NOTE]
    sounded = [
        walk.at for walk in horn.identifications.all() if walk.observations.get("test_note", "cant-tell") != "cant-tell"
    ]
    return any(not any(at >= since for at in sounded) for since in asked)


def _struck_out(horn: Horn) -> bool:
    gone = (Standing.Kind.WITHDRAWN, Standing.Kind.STRUCK_OUT, Standing.Kind.KEPT_AGAIN)
    last = horn.standings.filter(kind__in=gone).order_by("pk").last()
    return last is not None and last.kind == Standing.Kind.STRUCK_OUT


def _since(horn: Horn, begin: tuple[str, ...], ends: str) -> date | None:
    last = horn.standings.filter(kind__in=[*begin, ends]).order_by("pk").last()
    return last.on if last is not None and last.kind in begin else None
