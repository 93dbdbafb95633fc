"""One tap moves a job on: on its page, beside it on the bench list, and for all that are ticked there."""

from __future__ import annotations

import re

import pytest

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions.jobs import move_job
from fleet.workshop.models import JobStep, RepairJob
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.either_engine
LATER = make.NOW.replace(hour=12)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        browser = as_(technician)

        @classmethod
        def at(cls, path: str) -> str:
            return f"/s/{cls.school.slug}/{path}"

        @classmethod
        def job(cls, *faults: str, **fields) -> RepairJob:
            job = make.job(make.horn(cls.school), cls.technician, **fields)
            check = make.check(job.horn, cls.technician, grade=3)
            for fault in faults:
                make.finding(check, fault, "r", job=job)
            return job

        @classmethod
        def move(cls, job: RepairJob, state: str, seen: int = 0) -> RepairJob:
            return move_job(job=job, by=cls.technician, at=LATER, seen=seen, state=state)

    return World


def test_who_starts_a_job_that_nobody_has_takes_it(world):
    other = make.staff(Role.TECHNICIAN, world.school)

    assert world.move(world.job("string-broken"), "bench").technician == world.technician
    assert world.move(world.job("string-broken", technician=other), "bench").technician == other


def test_done_takes_the_usual_minutes_where_none_are_noted(world):
    usual = world.job("string-broken", "string-frayed")
    mended = world.job("string-broken", "string-frayed")
    mended.findings.filter(fault="string-frayed").update(mended_at=make.NOW)

    assert world.move(usual, "done").minutes == 25
    assert world.move(mended, "done").minutes == 15
    assert world.move(world.job("string-broken", minutes=0), "done").minutes == 0
    assert world.move(world.job(notes="Something"), "done").minutes is None
    assert world.move(world.job("string-broken"), "bench").minutes is None


def test_a_job_at_the_repairers_is_not_moved_by_a_tap(world):
    away = world.job("bell-torn", state="away", repairer="Vale Workshop", sent_on=make.TODAY)

    with pytest.raises(Refused) as no:
        world.move(away, "done")

    assert no.value.sentence == f"{away.horn} is at the repairer’s. Say first when it came back."
    assert no.value.way_out.page == "workshop:job-outside"
    assert away.taps == ()


@pytest.mark.parametrize(
    ("state", "buttons"),
    [
        ("waiting", ["Start", "Waits for a part", "Done"]),
        ("bench", ["Done", "Waits for a part"]),
        ("parts", ["Start", "Done"]),
        ("done", []),
    ],
)
def test_a_jobs_page_offers_where_one_tap_leads(world, state, buttons):
    job = world.job("string-broken", state=state)

    page = folded(world.browser.get(world.at(f"jobs/{job.pk}/")))

    offered = [words for words in ("Start", "Waits for a part", "Done") if f'aria-label="{words}: {job.horn}"' in page]
    assert sorted(offered) == sorted(buttons)


def test_a_tap_on_the_jobs_page_stays_there_and_done_leads_to_the_check(world):
    job = world.job("string-broken")
    page = world.at(f"jobs/{job.pk}/")

    started = world.browser.post(page, {"do": "bench-0"})
    done = world.browser.post(page, {"do": f"done-{job.steps.get().pk}"})

    assert started.url == page
    assert done.url.startswith(world.at(f"horns/{job.horn_id}/check/?occasion=after-repair"))
    job.refresh_from_db()
    assert (job.state, job.minutes) == ("done", 15)


def test_a_tap_on_what_somebody_changed_meanwhile_is_refused_and_then_taken(world):
    job = world.job("string-broken")
    other = make.staff(Role.TECHNICIAN, world.school, name="Bo Lund")
    step = JobStep.objects.create(job=job, at=make.NOW, by=other, state="waiting", words="notes changed")

    no = world.browser.post(world.at(f"jobs/{job.pk}/"), {"do": "bench-0"})

    assert no.status_code == 409
    assert no.context["refused"].sentence.startswith("Bo Lund changed this job")
    assert f'value="bench-{step.pk}"' in no.content.decode()
    assert world.browser.post(world.at(f"jobs/{job.pk}/"), {"do": f"bench-{step.pk}"}).status_code == 302


@pytest.mark.parametrize("do", ["", "done", "done-", "done--1", "away-0", "done-x", "done-1111111111111111111"])
def test_nonsense_in_a_tap_moves_nothing(world, do):
    job = world.job("string-broken")

    answer = world.browser.post(world.at(f"jobs/{job.pk}/"), {"do": do})

    assert answer.status_code == 422
    job.refresh_from_db()
    assert job.state == "waiting"


def test_a_tap_beside_a_job_on_the_list_leads_back_to_the_list_as_it_was_asked_for(world):
    job = world.job("string-broken")
    asked = world.at("bench/?whose=free")
    assert f'formaction="{world.at(f"jobs/{job.pk}/")}"' in world.browser.get(asked).content.decode()

    answer = world.browser.post(world.at(f"jobs/{job.pk}/"), {"do": "bench-0", "next": asked})

    assert answer.url == asked


def test_all_that_are_ticked_are_moved_and_one_that_cannot_go_is_told(world):
    one, two, out = world.job("string-broken"), world.job("string-broken"), world.job("string-broken")
    make.loan(out.horn, make.pupil(world.school, name="Mia Stone"), world.technician)
    elsewhere = make.job(make.horn(make.school()), world.technician)
    ticked = [f"{job.pk}-0" for job in (one, two, out, elsewhere)]

    answer = world.browser.post(world.at("bench/move/"), {"do": "bench", "jobs": [*ticked, "x", "9-", "7-7-7"]})

    page = folded(world.browser.get(answer.url))
    assert "2 of them: on the bench." in page
    assert f"{out.horn} is out with Mia Stone." in page
    assert set(RepairJob.objects.filter(state="bench")) == {one, two}


def test_a_button_for_those_ticked_with_none_ticked_says_so(world):
    world.job("string-broken")

    answer = world.browser.post(world.at("bench/move/"), {"do": "done"})

    assert "Tick the jobs first, then press the button." in folded(world.browser.get(answer.url))
    assert not RepairJob.objects.filter(state="done").exists()


def test_a_teacher_sees_no_buttons_on_the_bench_list(world, as_):
    world.job("string-broken")
    world.job("string-broken")

    page = as_(make.staff(Role.TEACHER, world.school)).get(world.at("bench/")).content.decode()

    assert 'name="do"' not in page
    assert 'name="jobs"' not in page


def test_a_label_at_the_bench_opens_what_is_next_with_its_horn(world, as_):
    job, sound = world.job("string-broken"), make.horn(world.school)

    def leads_to(label: str, browser=world.browser) -> str:
        return browser.get(world.at("bench/"), {"label": label}).url

    assert leads_to(job.horn.number) == world.at(f"jobs/{job.pk}/")
    assert leads_to(f"http://x/h/{job.horn.label_code}/") == world.at(f"jobs/{job.pk}/")
    assert leads_to(sound.number) == world.at(f"horns/{sound.pk}/check/")
    assert leads_to(job.horn.number, as_(make.staff(Role.TEACHER, world.school))) == world.at(f"jobs/{job.pk}/")
    world.move(job, "done")
    assert leads_to(job.horn.number) == world.at(f"horns/{job.horn_id}/check/")


@pytest.mark.parametrize("label", ["HN-9999", "\0", "x" * 201])
def test_a_label_that_no_horn_has_is_told(world, label):
    page = world.browser.get(world.at("bench/"), {"label": label})

    assert page.status_code == 200
    assert ("No horn has the number" in folded(page)) == (label == "HN-9999")


@pytest.mark.parametrize(
    ("role", "fields", "act"),
    [
        (Role.TECHNICIAN, {}, "Start"),
        (Role.TECHNICIAN, {"state": "bench"}, "Done"),
        (Role.TECHNICIAN, {"state": "away", "repairer": "Brass House"}, "Say when it came back"),
        (Role.TECHNICIAN, {"state": "done"}, None),
        (Role.TECHNICIAN, {"quote": "900"}, "Start"),
        (Role.HEAD, {"quote": "900"}, "Approve 900.00 EUR"),
        (Role.HEAD, {"state": "away", "repairer": "Brass House", "quote": "900"}, "Approve 900.00 EUR"),
        (Role.HEAD, {"state": "done", "cost": "900"}, "Approve 900.00 EUR"),
    ],
)
def test_a_jobs_page_has_one_act_in_colour_the_next_one(world, as_, role, fields, act):
    school = world.school
    type(school).objects.filter(pk=school.pk).update(approve_above=150, currency="EUR")
    job = make.job(make.horn(school), world.technician, **fields)

    page = folded(as_(make.staff(role, school)).get(world.at(f"jobs/{job.pk}/"))).partition("<main")[2]

    acts = re.findall(r'<(?:a|button) [^>]*class="(?:button )?main"[^>]*>(.*?)</', page)
    assert [one.strip() for one in acts] == ([act] if act else [])


def test_a_mended_horn_that_is_to_be_fetched_is_the_one_act_in_colour(world, as_):
    horn = make.horn(world.school)
    make.loan(horn, make.pupil(world.school), world.technician)
    job = make.job(horn, world.technician, state="done", brought_at=make.NOW)

    page = folded(as_(make.staff(Role.TEACHER, world.school)).get(world.at(f"jobs/{job.pk}/"))).partition("<main")[2]

    assert re.findall(r'class="(?:button )?main">(.*?)<', page) == ["It was fetched"]


def test_the_page_of_a_job_at_the_repairers_says_once_where_it_is(world):
    job = world.job(state="away", repairer="Brass House")

    head = folded(world.browser.get(world.at(f"jobs/{job.pk}/"))).partition('class="lead"')[2].partition("</p>")[0]

    assert head.count("at the repairer’s") == 1
