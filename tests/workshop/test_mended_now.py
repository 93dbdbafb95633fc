"""A fault mended on the spot: two taps from the horn's page write the job, its minutes and the check after it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.mended_now import mended_now
from fleet.workshop.models import Finding, JobStep, RepairJob
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.either_engine
LATER = make.NOW + timedelta(hours=1)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        teacher = make.staff(Role.TEACHER, school)
        horn = make.horn(school, build="double-full", stands_in="F")
        browser = as_(teacher)

        @classmethod
        def found(cls, *found: Found):
            found = found or (Found("string-broken", "r"),)
            cls.check = log_check(
                horn=cls.horn, by=cls.teacher, at=make.NOW, occasion="other", finish_grade=2, found=found
            )
            return cls.check

        @classmethod
        def mend(cls, fault="string-broken", seen=None, at=LATER, **said):
            seen = cls.check.pk if seen is None else seen
            return mended_now(horn=cls.horn, fault=fault, by=cls.teacher, at=at, seen=seen, **said)

        @classmethod
        def at(cls, path: str) -> str:
            return f"/s/{cls.school.slug}/horns/{cls.horn.pk}/{path}"

    return World


def test_the_only_fault_mended_ends_its_job_and_the_horn_is_checked(world):
    world.found()

    check = world.mend(minutes=12)

    job = RepairJob.objects.get()
    world.horn.refresh_from_db()
    assert (job.state, job.minutes, job.technician) == ("done", 12, world.teacher)
    assert (check.occasion, check.grade, check.finish_grade) == ("after-repair", 1, 2)
    assert (world.horn.grade, world.horn.mended_on, world.horn.may_be_lent) == (1, None, True)
    assert Finding.objects.get(check_made=world.check).mended_at == LATER


def test_a_small_fault_without_a_job_gets_one_that_is_done(world):
    world.found(Found("string-frayed", "w"))

    world.mend("string-frayed")

    job = RepairJob.objects.get()
    assert (job.state, job.opened_at, job.closed_at, job.findings.get().fault) == (
        "done",
        LATER,
        LATER,
        "string-frayed",
    )


def test_what_else_was_found_stays_and_a_job_that_waits_for_it_stays_open(world):
    world.found(Found("string-broken", "r"), Found("rotor-frozen", "r", "third"))

    check = world.mend(minutes=5)

    job = RepairJob.objects.get()
    left = check.findings.get()
    assert (left.fault, left.note, left.job) == ("rotor-frozen", "third", job)
    assert (job.state, job.minutes) == ("waiting", None)
    assert job.steps.latest("pk").words == "string broken mended on the spot, 5 min"


@pytest.mark.parametrize("more", ["notes", "report"])
def test_a_job_that_is_about_more_than_the_fault_stays_open(world, more):
    world.found()
    if more == "notes":
        RepairJob.objects.update(notes="Clean it too.")
    else:
        make.report(world.horn, world.teacher, job=RepairJob.objects.get(), answered_at=make.NOW)

    world.mend()

    assert RepairJob.objects.get().state == "waiting"


def test_parts_go_off_the_shelf_one_for_each_place(world):
    world.found(Found("string-broken", "r", places=("1", "3")))
    cord = make.part(world.school, on_hand=5, mends=["string-broken"])

    world.mend(parts=[cord])

    cord.refresh_from_db()
    assert cord.on_hand == 3


@pytest.mark.parametrize(
    ("found", "said", "sentence"),
    [
        ("string-broken", {"fault": "string-frayed"}, "This is mended already"),
        ("bell-torn", {"fault": "bell-torn"}, "is for the repairer."),
        ("string-broken", {"seen": 0}, "checked"),
    ],
)
def test_what_cannot_be_is_refused_and_writes_nothing(world, found, said, sentence):
    world.found(Found(found, "r"))

    with pytest.raises(Refused, match=sentence):
        world.mend(**said)

    assert RepairJob.objects.get().state == "waiting"
    assert not Finding.objects.exclude(mended_at=None).exists()


def test_what_is_at_the_repairers_is_not_mended_here(world):
    world.found()
    RepairJob.objects.update(state="away", repairer="Vale Workshop", sent_on=make.TODAY)

    with pytest.raises(Refused, match="is at the repairer’s"):
        world.mend()


def test_a_horn_on_loan_is_mended_without_its_loan_ending(world):
    world.found()
    loan = make.loan(world.horn, make.pupil(world.school), world.teacher)

    world.mend(seen=world.horn.checks.first().pk)

    loan.refresh_from_db()
    world.horn.refresh_from_db()
    assert (loan.returned_on, world.horn.where, world.horn.grade) == (None, "out", 1)


def test_from_the_horns_page_a_string_takes_two_taps(world):
    make.part(world.school, name="Cord", on_hand=4, mends=["string-broken"])
    world.found(Found("string-broken", "r"), Found("bell-torn", "r"))
    page = world.browser.get(world.at("")).content.decode()
    assert "?fault=string-broken" in page
    assert "?fault=bell-torn" not in page

    form = world.browser.get(world.at("mended/?fault=string-broken"))
    fields = form.context["form"]
    sent = {name: value for name in fields.fields if (value := fields[name].value()) is not None}
    answer = world.browser.post(world.at("mended/?fault=string-broken"), sent)

    assert sent["minutes"] == 15
    assert "It will read:" in folded(form)
    assert answer.url == world.at("")
    assert "Its repair job stays open for the rest." in folded(world.browser.get(answer.url))
    assert JobStep.objects.filter(words="used 1 × Cord").exists()


def test_the_same_button_pressed_twice_leads_back_to_the_horn(world):
    world.found()
    page = world.at("mended/?fault=string-broken")
    sent = {"minutes": "5", "seen": world.check.pk}

    assert [world.browser.post(page, sent).url for _ in "ab"] == [world.at("")] * 2
    assert RepairJob.objects.count() == 1


@pytest.mark.parametrize(
    ("minutes", "status"), [("-1", 422), ("0", 302), ("", 302), ("100000", 302), ("100001", 422), ("x", 422)]
)
def test_minutes_that_cannot_be_are_answered(world, minutes, status):
    world.found()

    answer = world.browser.post(world.at("mended/?fault=string-broken"), {"minutes": minutes, "seen": world.check.pk})

    assert answer.status_code == status
