"""Repair jobs and families' reports, as the actions keep them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from fleet.ground.access import Role
from fleet.ground.refusal import Refused, WayOut
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.jobs import change_job, open_job, work_of
from fleet.workshop.actions.reports import answer_report, report_fault
from fleet.workshop.models import FaultReport, JobStep, RepairJob
from tests import make

NOW = make.NOW
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def world(db: None):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        colleague = make.staff(Role.TECHNICIAN, school, name="Bo Lund")
        horn = make.horn(school)
        guardian = make.guardian(school)
        pupil = make.pupil(school, guardian)

    World.check = log_check(
        horn=World.horn,
        by=World.technician,
        at=NOW,
        occasion="yearly",
        finish_grade=2,
        found=[Found("string-broken", "r"), Found("bell-dented", "n")],
    )
    World.job = World.horn.jobs.get()
    return World


def change(world, by=None, seen=None, at=LATER, **work) -> RepairJob:
    job = RepairJob.objects.get(pk=world.job.pk)
    stands = work_of(job)
    return change_job(
        job=job,
        by=by or world.technician,
        at=at,
        seen=job.steps.last().pk if seen is None else seen,
        work=replace(stands, **work),
    )


def test_a_job_on_the_bench_puts_the_horn_in_the_workshop_and_waiting_takes_it_out(world):
    change(world, state="bench")
    world.horn.refresh_from_db()
    assert world.horn.where == "workshop"

    change(world, state="parts")
    world.horn.refresh_from_db()
    assert world.horn.where == "workshop"

    change(world, state="waiting")
    world.horn.refresh_from_db()
    assert world.horn.where == "cupboard"


@pytest.mark.parametrize("state", ["bench", "parts"])
def test_a_horn_that_is_out_does_not_go_on_the_bench(world, state):
    make.loan(world.horn, world.pupil, world.technician)

    with pytest.raises(Refused) as no:
        change(world, state=state)

    assert no.value.sentence == (
        f"{world.horn} is out with {world.pupil}. Once it is brought, press “It is here” on its job; its loan goes on."
    )
    assert no.value.way_out == WayOut("desk:horn", f"Go to {world.horn}", (world.horn.pk,))
    world.job.refresh_from_db()
    world.horn.refresh_from_db()
    assert (world.job.state, world.horn.on_bench) == ("waiting", False)


def test_done_marks_the_jobs_findings_mended_and_keeps_the_grade_until_somebody_looks(world):
    change(world, state="bench")
    job = change(world, state="done", cost=Decimal("12.50"))

    world.horn.refresh_from_db()
    mended = dict(world.check.findings.values_list("fault", "mended_at"))
    assert mended == {"string-broken": LATER, "bell-dented": None}
    assert (job.closed_at, world.horn.where, world.horn.grade) == (LATER, "cupboard", 3)


def test_done_leaves_open_what_was_mended_in_the_job_before_and_has_come_back_since(world):
    world.job.findings.update(mended_at=LATER)
    again = make.check(world.horn, world.technician)
    make.finding(again, "string-broken", "r")

    change(world, state="done")

    assert again.findings.get().mended_at is None


def test_giving_up_frees_the_bench_and_mends_nothing(world):
    change(world, state="bench")
    change(world, state="given-up")

    world.horn.refresh_from_db()
    assert (world.horn.on_bench, world.horn.grade) == (False, 3)
    assert not world.check.findings.exclude(mended_at=None).exists()


def test_the_second_of_two_technicians_reads_who_changed_the_job_and_overwrites_nothing(world):
    seen = world.job.steps.last().pk
    change(world, state="bench", technician=world.technician, notes="New cord.")

    with pytest.raises(Refused) as no:
        change(world, by=world.colleague, seen=seen, state="waiting", notes="Mine.")

    assert no.value.sentence.startswith(
        "Ann Reed changed this job at 11:30, 14 September 2026: on the bench, technician Ann Reed, notes changed. "
    )
    world.job.refresh_from_db()
    assert (world.job.state, world.job.notes) == ("bench", "New cord.")


def test_saving_twice_what_is_already_so_is_no_quarrel_and_no_step(world):
    seen = world.job.steps.last().pk
    change(world, state="bench")
    change(world, by=world.colleague, seen=seen, state="bench")

    assert JobStep.objects.filter(job=world.job).count() == 2


def test_a_closed_job_is_not_worked_on_again(world):
    change(world, state="done")

    with pytest.raises(Refused, match=r"closed on 14 September 2026\. What is wrong now belongs on a new job"):
        change(world, notes="One more thing.")


def test_a_horn_withdrawn_meanwhile_does_not_go_on_the_bench_but_its_job_can_be_given_up(world):
    type(world.horn).objects.filter(pk=world.horn.pk).update(withdrawn_on=NOW.date())

    with pytest.raises(Refused, match="is withdrawn"):
        change(world, state="bench")
    assert change(world, state="given-up").closed_at == LATER


def test_a_clock_that_runs_behind_cannot_close_a_job_before_it_was_opened(world):
    job = change(world, state="done", at=NOW - timedelta(days=1))

    assert job.closed_at == job.opened_at


def test_the_database_itself_refuses_a_negative_cost(world):
    with pytest.raises(IntegrityError), transaction.atomic():
        RepairJob.objects.update(cost=Decimal("-0.01"))


def test_a_step_says_what_it_changed_so_that_it_can_be_read_alone(world):
    change(world, technician=world.technician, minutes=25, cost=Decimal(40), notes="New string")
    change(world, minutes=None)

    assert [step.words for step in world.job.steps.all()][1:] == [
        "technician Ann Reed, 25 min, cost noted, notes changed",
        "minutes left open",
    ]


def report(world, words="The third valve sticks.", **more) -> FaultReport:
    told = {"pupil": world.pupil, "by": world.guardian.user, "at": NOW, "still_plays": False, **more}
    return report_fault(horn=world.horn, words=words, **told)


def test_a_familys_report_waits_for_an_answer(world):
    made = report(world, "  The third valve sticks. \n")

    assert list(FaultReport.objects.at(world.school).unanswered()) == [made]
    assert (made.words, made.still_plays) == ("The third valve sticks.", False)
    assert not FaultReport.objects.at(make.school()).exists()


def test_the_same_report_sent_twice_is_kept_once(world):
    assert report(world) == report(world, at=LATER)
    assert FaultReport.objects.count() == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (" \n", "Say in a few words what is wrong."),
        ("x" * 1001, "Say it in at most 1000 characters."),
    ],
)
def test_a_report_of_no_words_or_too_many_is_refused(world, words, sentence):
    with pytest.raises(Refused) as no:
        report(world, words)

    assert no.value.sentence == sentence


def test_a_report_about_another_schools_horn_is_refused(world):
    with pytest.raises(Refused, match="another school"):
        report(world, pupil=make.pupil(make.school()))


def test_a_report_becomes_part_of_the_open_job(world):
    answered = answer_report(report=report(world), by=world.technician, at=LATER, answer="Bring it in.", to_bench=True)

    assert (answered.job, answered.answer, answered.answered_by) == (world.job, "Bring it in.", world.technician)
    assert not FaultReport.objects.unanswered().exists()


def test_a_report_opens_a_job_where_there_is_none(world):
    change(world, state="done")

    answered = answer_report(report=report(world), by=world.technician, at=LATER, answer="", to_bench=True)

    assert answered.job.is_open
    assert answered.job != world.job


def test_an_answer_in_words_opens_nothing(world):
    answered = answer_report(report=report(world), by=world.technician, at=LATER, answer=" Oil it. ", to_bench=False)

    assert (answered.job, answered.answer) == (None, "Oil it.")


def test_no_answer_is_no_answer(world):
    with pytest.raises(Refused, match="Write the family an answer"):
        answer_report(report=report(world), by=world.technician, at=LATER, answer=" ", to_bench=False)


def test_the_second_to_answer_reads_who_was_first(world):
    made = report(world)
    answer_report(report=made, by=world.technician, at=LATER, answer="Oil it.", to_bench=False)

    with pytest.raises(Refused, match="Ann Reed answered this already at 11:30, 14 September 2026"):
        answer_report(report=made, by=world.colleague, at=LATER, answer="Bring it.", to_bench=True)
    made.refresh_from_db()
    assert made.answer == "Oil it."


def test_a_family_is_answered_even_when_the_horn_is_withdrawn(world):
    made = report(world)
    type(world.horn).objects.filter(pk=world.horn.pk).update(withdrawn_on=NOW.date())

    answered = answer_report(report=made, by=world.technician, at=LATER, answer="You get another.", to_bench=False)

    assert answered.answer == "You get another."


def test_a_job_opened_by_hand_keeps_technician_and_minutes(world):
    horn = make.horn(world.school)

    job = open_job(
        horn=horn, by=world.technician, at=NOW, technician=world.colleague, minutes=40, notes="Line up the bumpers."
    )

    assert (job.technician, job.minutes, job.notes) == (world.colleague, 40, "Line up the bumpers.")
    assert [step.words for step in job.steps.all()] == ["opened"]
