"""The years behind a school of the bench: what was looked over, lent, mended, answered and given up before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Model

from fleet.ground.access import Role
from fleet.lending.models import Agreement, Charge, Loan, LoanAccessory, LoanPeriod
from fleet.letters.models import Letter
from fleet.people.models import Guardian, Pupil, School
from fleet.register.actions.keeping import keep_all
from fleet.register.actions.many import register_many
from fleet.register.models import Disposal, Horn, Standing
from fleet.workshop.models import ConditionCheck, FaultReport, Finding, JobStep, PartUsed, RepairJob
from tests import make
from tests.doors import World

YEARS = 5
# The school had its horns before all that.
BEGAN = make.NOW - timedelta(days=365 * (YEARS + 1))
FAULTS = ("string-broken", "bumper-worn", "water-key-leaking")


def lived(
    world: World, horns: Sequence[Horn], pupils: Sequence[Pupil], guardians: Sequence[Guardian], *, mended: int
) -> None:
    """Five school years: each horn looked over twice in each and every second one lent to another pupil, `mended` jobs
    done in each and half as many families answered; as many horns as that given up and struck out in all.
    """
    agreement = Agreement.objects.filter(school=world.school).latest("version")
    for year in range(YEARS, 0, -1):
        begun = make.NOW - timedelta(days=40 + 365 * year)
        before = _looked_over(world, horns, begun, "before-loan")
        after = _looked_over(world, horns, begun + timedelta(days=200), "yearly")
        _lent(world, agreement, year, begun, before, after, pupils, guardians)
        _mended(world, begun + timedelta(days=210), after[year % 7 :: len(horns) // mended])
        some = range(year % 7, len(horns), 2 * len(horns) // mended)
        _answered(world, begun + timedelta(days=150), [(horns[n], pupils[n]) for n in some])
    _gone(world, make.NOW - timedelta(days=500), mended)


def _made(rows: Iterable[Model]) -> list[Any]:
    made: list[Any] = list(rows)
    return list(type(made[0])._default_manager.bulk_create(made, 2000))


def _looked_over(world: World, horns: Iterable[Horn], at: datetime, occasion: str) -> list[ConditionCheck]:
    head = world.people[Role.HEAD]
    return _made(
        ConditionCheck(horn=horn, at=at, by=head, occasion=occasion, grade=1 + n % 2, finish_grade=2)
        for n, horn in enumerate(horns)
    )


def _lent(
    world: World,
    agreement: Agreement,
    year: int,
    begun: datetime,
    before: Sequence[ConditionCheck],
    after: Sequence[ConditionCheck],
    pupils: Sequence[Pupil],
    guardians: Sequence[Guardian],
) -> None:
    head, school, on = world.people[Role.HEAD], world.school, begun.date()
    loans = _made(
        Loan(
            school=school,
            horn_id=before[n].horn_id,
            pupil=pupils[(n + year) % len(pupils)],
            guardian=guardians[(n + year) % len(pupils)],
            agreement=agreement,
            signed_on=on,
            issued_on=on,
            issued_by=head,
            due_on=on + timedelta(days=300),
            check_at_issue=before[n],
            check_at_return=after[n],
            returned_on=on + timedelta(days=290 + n % 20),
            returned_to=head,
            mouthpiece_cleaned_on=on + timedelta(days=320),
            mouthpiece_cleaned_by=head,
        )
        for n in range(0, len(before), 2)
    )
    sent(school, loans, begun + timedelta(days=286))
    _made(LoanAccessory(loan=loan, name="case", came_back=True) for loan in loans)
    _made(
        LoanPeriod(
            loan=loan,
            kind=LoanPeriod.Kind.RENEWED,
            due_before=on + timedelta(days=250),
            due_on=loan.due_on,
            at=begun + timedelta(days=240),
            by=head,
        )
        for loan in loans[::5]
    )
    _made(
        Charge(
            loan=loan,
            what="hire",
            amount=30,
            currency="EUR",
            due_on=on + timedelta(days=60),
            made_at=begun,
            made_by=head,
            state=Charge.State.PAID,
            settled_on=on + timedelta(days=30),
            settled_by=head,
        )
        for loan in loans[::5]
    )


def sent(school: School, loans: Iterable[Loan], at: datetime) -> None:
    """A letter about the due day of each of these loans."""
    _made(
        Letter(
            school=school,
            loan=loan,
            guardian_id=loan.guardian_id,
            occasion="before-14",
            due_on=loan.due_on,
            state=Letter.State.SENT,
            made_at=at,
            sent_at=at,
            address=f"{loan.pk}@home.example",
        )
        for loan in loans
    )


def _mended(world: World, at: datetime, found: Sequence[ConditionCheck]) -> None:
    head, done = world.people[Role.HEAD], at + timedelta(days=10)
    jobs = _made(
        RepairJob(
            school=world.school,
            horn_id=check.horn_id,
            opened_at=at,
            opened_by=head,
            technician=world.people[Role.TECHNICIAN],
            state=RepairJob.State.DONE,
            closed_at=done,
            minutes=45,
            cost=Decimal(20 + n % 50) if n % 4 else None,
        )
        for n, check in enumerate(found)
    )
    _made(
        Finding(
            check_made=check,
            school=world.school,
            fault=FAULTS[n % len(FAULTS)],
            severity="r",
            job=job,
            mended_at=done,
        )
        for n, (check, job) in enumerate(zip(found, jobs, strict=True))
    )
    _made(JobStep(job=job, at=at, by=head, state=RepairJob.State.WAITING, words="opened") for job in jobs)
    _made(JobStep(job=job, at=done, by=head, state=RepairJob.State.DONE, words="done") for job in jobs)
    _made(PartUsed(job=job, part=world.part, count=1, cost_each=Decimal("1.50"), at=done, by=head) for job in jobs)


def _answered(world: World, at: datetime, about: Iterable[tuple[Horn, Pupil]]) -> None:
    head = world.people[Role.HEAD]
    answered = at + timedelta(days=1)
    _made(
        FaultReport(
            horn=horn,
            pupil=pupil,
            by=head,
            at=at,
            words="It stuck.",
            answered_at=answered,
            answered_by=head,
            answer="Oiled.",
        )
        for horn, pupil in about
    )


def _gone(world: World, at: datetime, many: int) -> None:
    """Half of them given up by two people, half struck out as entered by mistake."""
    head, teacher = world.people[Role.HEAD], world.people[Role.TEACHER]
    told = [{"number": f"GX-{n:06d}", "build": "single-f", "stands_in": "F"} for n in range(many)]
    horns = register_many(school=world.school, particulars=told, by=head, at=BEGAN)
    _looked_over(world, horns, BEGAN, "yearly")
    given_up, struck_out = horns[::2], horns[1::2]
    _made(
        Disposal(
            horn=horn,
            method=Disposal.Method.SCRAPPED,
            on=at.date(),
            reason="Cracked",
            proposed_at=at,
            proposed_by=teacher,
            decided_at=at,
            decided_by=head,
            approved=True,
        )
        for horn in given_up
    )
    for some, kind in ((given_up, Standing.Kind.WITHDRAWN), (struck_out, Standing.Kind.STRUCK_OUT)):
        _made(Standing(horn=horn, by=head, at=at, kind=kind, on=at.date(), reason="Gone") for horn in some)
    keep_all(horn.pk for horn in horns)
