"""The bench in numbers: each figure beside rows that just count and rows that just do not."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import translation

from fleet.ground.access import Role
from fleet.reports.queries.bench_figures import bench_figures, bench_sections
from fleet.reports.queries.costs import cost_by_fault, faults_of, paid
from fleet.workshop.models import PartUsed, RepairJob, WorkOrdered
from tests import make
from tests.pages import folded, on_paper

SINCE, UNTIL = date(2025, 10, 1), date(2026, 9, 14)
DAY = timedelta(days=1)


@pytest.fixture
def world(db):
    class World:
        school = make.school(warranty_days=30)
        head = make.staff(Role.HEAD, school)
        horn = make.horn(school, maker="Ferro")

        @classmethod
        def done(cls, days_ago=10, **said):
            job = make.job(cls.horn, cls.head, state="done", at=make.NOW - days_ago * DAY, **said)
            RepairJob.objects.filter(pk=job.pk).update(opened_at=job.opened_at - 4 * DAY)
            return job

        @classmethod
        def figures(cls):
            return bench_figures(cls.school, SINCE, UNTIL)

    other = make.school()
    strange = make.job(make.horn(other), make.staff(Role.HEAD, other), state="done", minutes=999)
    make.finding(make.check(strange.horn, World.head), job=strange)
    return World


def test_turnaround_is_told_in_the_house_and_for_each_repairer(world):
    for days in (0, 4, 20):
        sent = make.TODAY - 40 * DAY
        world.done(repairer="Vale", sent_on=sent, back_on=sent + days * DAY)
    world.done()
    assert world.figures().turnaround == [("Vale", 3, 4, 20), ("in the house", 1, 4, 4)]


def test_minutes_of_a_job_are_split_between_its_faults_and_works(world):
    job = world.done(minutes=100)
    check = make.check(world.horn, world.head)
    make.finding(check, "string-broken", job=job)
    make.finding(check, "bell-dented", "n", job=job)
    WorkOrdered.objects.create(job=job, work="overhaul", at=make.NOW, by=world.head)
    world.done(minutes=7)
    world.done(minutes=None)
    told = world.figures().minutes
    assert [one[1:] for one in told] == [(34, 1), (33, 1), (33, 1), (7, 1)]
    assert {one[0] for one in told} >= {"string broken", "overhaul", "no fault named"}


def test_faults_and_works_are_named_in_the_readers_language(world):
    job = world.done(minutes=100, cost=Decimal(10))
    for days in (20, 5):
        check = make.check(world.horn, world.head, at=make.NOW - days * DAY)
        make.finding(check, "string-broken", job=job, mended_at=make.NOW - 10 * DAY if days == 20 else None)
    WorkOrdered.objects.create(job=job, work="overhaul", at=make.NOW, by=world.head)

    with translation.override("de"):
        told = world.figures()
        done = RepairJob.objects.filter(pk=job.pk)
        costs = cost_by_fault(paid(done), faults_of(done))

    assert {one[0] for one in told.minutes} == {"Schnur gerissen", "Generalüberholung"}
    assert told.back == [("Schnur gerissen", 1, 1)]
    assert [one.label for one in costs] == ["Schnur gerissen"]


@pytest.mark.parametrize(("after", "places", "counts"), [(30, ["1"], 1), (31, ["1"], 0), (5, ["2"], 0), (5, [], 1)])
def test_a_fault_comes_back_within_the_days_a_repair_should_hold_at_the_same_place(world, after, places, counts):
    mended = make.NOW - 60 * DAY
    for days in (70, 65):
        check = make.check(world.horn, world.head, at=make.NOW - days * DAY)
        make.finding(check, "rotor-leaking", "w", places=["1"], mended_at=mended)
    again = make.check(world.horn, world.head, at=mended + after * DAY)
    make.finding(again, "rotor-leaking", "w", places=places)
    assert [one[1:] for one in world.figures().back] == [(1, 1)] * counts


def test_parts_count_on_the_first_and_last_day_of_the_year_alone(world):
    part, job = make.part(world.school, name="cork"), world.done()
    for at in (SINCE - DAY, SINCE, UNTIL, UNTIL + DAY):
        moment = make.NOW.replace(year=at.year, month=at.month, day=at.day)
        PartUsed.objects.create(job=job, part=part, count=2, cost_each=Decimal("1.50"), at=moment, by=world.head)
    assert world.figures().parts == [("cork", 4, Decimal("6.00"))]


def test_makers_and_years_have_their_jobs_minutes_and_cost(world):
    world.done(minutes=30, cost=Decimal(40))
    world.done(400, minutes=10)
    world.done(5 * 366)
    told = world.figures()
    assert [(one.label, one.jobs, one.minutes, one.cost) for one in told.by_maker] == [("Ferro", 1, 30, Decimal(40))]
    assert [(one.label, one.jobs, one.minutes) for one in told.by_year] == [("2025", 1, 10), ("2026", 1, 30)]


def test_picture_and_yearly_report_show_each_with_its_table_and_nothing_where_nothing_was_done(world, as_):
    assert bench_sections(world.figures()) == []
    world.done(minutes=30)
    keys = [one.key for one in bench_sections(world.figures())]
    assert keys == ["bench-turnaround", "bench-minutes", "bench-maker", "bench-year"]
    page = folded(as_(world.head).get(f"/s/{world.school.slug}/picture/?until={UNTIL}"))
    assert "How long repairs take" in page
    assert "Repairs by maker" in page
    paper = as_(world.head).get(f"/s/{world.school.slug}/prints/yearly-report.pdf?until={UNTIL}").content
    words = " ".join(on_paper(paper))
    assert re.search(r"Repairs by maker\b.*\bFerro\b.*Repairs by year", words, re.DOTALL)


def test_the_figures_take_as_many_queries_for_three_jobs_as_for_one(world, django_assert_num_queries):
    for _ in range(3):
        world.done(minutes=3)
    with django_assert_num_queries(8):
        world.figures()
