"""An open job takes in what else is wrong with its horn, whatever its severity; else it ends unmended beside it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils.translation import override

from fleet.desk.queries.family import reports_of
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions.agreed import take_in
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.jobs import move_job
from fleet.workshop.actions.reports import answer_report, report_fault
from fleet.workshop.models import Finding, RepairJob
from fleet.workshop.queries.agreed import beside
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.either_engine
LATER = make.NOW + timedelta(hours=1)
FOUND = [
    Found("linkage-clicking", "w"),
    Found("rotor-bearing-worn", "w"),
    Found("leadpipe-red-rot", "n"),
    Found("water-key-leaking", "r"),
]


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school, build="double-full", stands_in="F")
        loan = make.loan(horn, make.pupil(school), technician)
        report = report_fault(
            horn=horn, pupil=loan.pupil, by=technician, at=make.NOW, words="It clicks", still_plays=True
        )
        answer_report(report=report, by=technician, at=make.NOW, answer="", to_bench=True)
        job = RepairJob.objects.get()
        browser = as_(technician)

        @classmethod
        def look(cls, found=FOUND, at=make.NOW):
            return log_check(horn=cls.horn, by=cls.technician, at=at, occasion="other", finish_grade=2, found=found)

        @classmethod
        def take(cls, *faults: str):
            take_in(job=cls.job, faults=faults, by=cls.technician, at=LATER)

        @classmethod
        def on_the_job(cls):
            return set(cls.job.findings.values_list("fault", flat=True))

        @classmethod
        def done(cls):
            seen = cls.job.steps.latest("pk").pk
            move_job(job=cls.job, by=cls.technician, at=LATER, seen=seen, state="done")

        @classmethod
        def at(cls, path: str = "") -> str:
            return f"/s/{cls.school.slug}/jobs/{cls.job.pk}/{path}"

    return World


def test_what_a_check_finds_beside_the_job_can_be_taken_in_whatever_its_severity(world):
    world.look()
    assert world.on_the_job() == {"water-key-leaking"}
    assert {one.fault for one in beside(world.job)} == {"linkage-clicking", "rotor-bearing-worn", "leadpipe-red-rot"}

    world.take("linkage-clicking", "leadpipe-red-rot")

    assert world.on_the_job() == {"water-key-leaking", "linkage-clicking", "leadpipe-red-rot"}
    assert [one.fault for one in beside(world.job)] == ["rotor-bearing-worn"]
    assert world.job.steps.last().words == "taken in: linkage clicking, leadpipe red rot"
    world.done()
    assert set(Finding.objects.filter(mended_at=None).values_list("fault", flat=True)) == {"rotor-bearing-worn"}


def test_what_is_taken_in_is_named_in_english_whoever_acts(world):
    world.look()

    with override("de"):
        world.take("rotor-bearing-worn")

    assert world.job.steps.last().words == "taken in: rotor bearing worn"


def test_taken_in_twice_it_is_one_step_and_a_later_check_leaves_it_on_the_job(world):
    world.look()
    world.take("rotor-bearing-worn")
    world.take("rotor-bearing-worn")
    assert world.job.steps.filter(words__startswith="taken in").count() == 1

    check = world.look([Found("rotor-bearing-worn", "w")], at=LATER)

    assert check.findings.get().job == world.job


@pytest.mark.parametrize("fault", ["bell-torn", "no-such-fault"])
def test_what_nobody_found_is_not_taken_in(world, fault):
    world.look()

    with pytest.raises(Refused, match="not wrong with it any more"):
        world.take("rotor-bearing-worn", fault)


def test_a_closed_job_takes_nothing_in(world):
    world.look()
    world.done()

    with pytest.raises(Refused, match="This job was closed"):
        world.take("rotor-bearing-worn")


@pytest.mark.both_engines
def test_the_page_of_a_job_offers_what_else_is_wrong_singly_and_all_at_once(world):
    world.look()
    page = folded(world.browser.get(world.at()))
    assert "Also wrong with it" in page
    assert 'aria-label="Take in: linkage clicking"' in page

    answer = world.browser.post(world.at("fault/"), {"take_in": "linkage-clicking"})
    assert (answer.url, "linkage-clicking" in world.on_the_job()) == (world.at(), True)
    world.browser.post(world.at("fault/"), {"take_in": "all"})

    assert world.on_the_job() == {one.fault for one in FOUND}
    assert "Also wrong with it" not in folded(world.browser.get(world.at()))


@pytest.mark.parametrize("taken", [["linkage-clicking"], [one.fault for one in FOUND]])
def test_a_check_says_what_its_open_job_does_not_have(world, taken):
    check = world.look()
    world.take(*taken)
    page, sent = f"/s/{world.school.slug}/horns/{world.horn.pk}/check/", {"as_before": "1", "seen": check.pk}

    told = folded(world.browser.post(page, sent | {"occasion": "other"}, follow=True))

    left = "Not on its repair job yet: rotor bearing worn, leadpipe red rot."
    assert (left in told) == ("rotor-bearing-worn" not in taken)


def test_a_family_reads_what_was_left_when_the_repair_is_done(world):
    def told():
        return reports_of(world.loan)[0][1]

    world.look()
    world.take("leadpipe-red-rot")
    world.done()
    world.look([Found("linkage-clicking", "w"), Found("rotor-bearing-worn", "w")], at=LATER + timedelta(hours=1))
    assert told() == (
        "A repair is done, and the school has looked the horn over. It can be played, though this is still there: "
        "linkage clicking, rotor bearing worn."
    )

    world.look([Found("leadpipe-red-rot", "n")], at=LATER + timedelta(hours=2))
    assert told() == "It is mended, and the school has looked it over."
