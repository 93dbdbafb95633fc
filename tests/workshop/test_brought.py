"""A horn on loan comes to the bench to be mended and goes back, and its loan goes on."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions.returning import end
from fleet.lending.models import Loan
from fleet.letters.models import LendingRules
from fleet.letters.queries.due import due_letters
from fleet.register.models import Horn
from fleet.register.queries.horns_now import horns_now
from fleet.workshop.actions.brought import bring, fetched
from fleet.workshop.actions.jobs import move_job
from fleet.workshop.actions.outside import Outside, change_outside
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import care_due, care_of
from fleet.workshop.queries.in_turn import turns
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.either_engine, pytest.mark.usefixtures("day_as_read")]
TODAY, NOW = make.TODAY, make.NOW
LATER = NOW + timedelta(hours=1)
# Pages read the clock themselves.
NOWADAYS = timezone.localdate()
WEDNESDAY = NOWADAYS + timedelta(days=2)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        teacher = make.staff(Role.TEACHER, school)
        guardian = make.guardian(school)
        horn = make.horn(school)
        loan = make.loan(horn, make.pupil(school, guardian, name="Mia Stone"), teacher)
        job = make.job(horn, technician)
        bench, family = as_(technician), as_(guardian.user)

        @classmethod
        def at(cls, path: str) -> str:
            return f"/s/{cls.school.slug}/{path}"

        @classmethod
        def now(cls) -> Horn:
            return Horn.objects.get(pk=cls.horn.pk)

        @classmethod
        def owed(cls) -> set[str]:
            of = horns_now([cls.horn.pk], school=cls.school, today=TODAY)
            return {one.code for one in of[cls.horn.pk].owed}

        @classmethod
        def move(cls, state: str, by=None):
            step = cls.job.steps.last()
            cls.job.refresh_from_db()
            said = {"seen": step.pk if step else 0, "state": state}
            return move_job(job=cls.job, by=by or cls.technician, at=LATER, **said)

        @classmethod
        def brought(cls):
            return cls.move("brought")

        @classmethod
        def page(cls, path: str, browser: Client | None = None) -> str:
            return folded((browser or cls.bench).get(cls.at(path)))

        @classmethod
        def told(cls, **fields) -> Client:
            said = {"bring_on": "", "bring_words": "", "fetch_on": "", **fields}
            return cls.bench.post(cls.at(f"jobs/{cls.job.pk}/family/"), said)

    return World


def test_what_is_brought_is_in_the_workshop_while_its_loan_goes_on(world):
    world.brought()

    now = world.now()
    assert (now.on_bench, now.holder_name, now.where) == (True, "Mia Stone", Horn.Where.REPAIR)
    assert now.whereabouts.words == "here for repair, its loan goes on"
    assert now.whereabouts.without_names == now.whereabouts.words
    assert now.whereabouts.is_here
    # Its job is the way on before taking it back is.
    assert [one.code for one in now.kept_back][:2] == ["workshop", "out"]
    assert Loan.objects.open().get() == world.loan
    assert turns(world.school, TODAY)[0].can_begin


def test_what_is_overdue_and_here_for_repair_is_owed_so_in_the_readers_language(world):
    world.brought()
    late = world.loan.due_on + timedelta(days=3)

    with override("de"):
        now = horns_now([world.horn.pk], school=world.school, today=late)[world.horn.pk]

    assert "seit 3 Tagen überfällig, und es ist zur Reparatur hier" in [one.why for one in now.owed]


def test_only_the_button_that_says_so_takes_in_a_horn_that_is_out(world):
    for state in ("bench", "parts"):
        with pytest.raises(Refused) as no:
            world.move(state)
        assert no.value.sentence.startswith(f"{world.horn} is out with Mia Stone. Once it is brought")
    page = world.page(f"jobs/{world.job.pk}/")
    assert "It is here: start" in page
    assert f'aria-label="Start: {world.horn}"' not in page

    answer = world.bench.post(world.at(f"jobs/{world.job.pk}/"), {"do": "brought-0"})

    assert answer.status_code == 302
    assert world.now().here_for_repair
    assert world.job.steps.get().words.startswith("brought for repair, its loan goes on; on the bench")


def test_brought_is_nothing_more_than_started_for_a_horn_that_nobody_has(world):
    Loan.objects.all().delete()
    make.keep([world.horn])

    world.brought()

    world.job.refresh_from_db()
    assert (world.job.state, world.job.brought_at) == ("bench", None)
    assert world.now().whereabouts.code == "workshop"


def test_mended_it_stays_here_until_it_is_fetched(world):
    world.brought()
    world.move("done")
    assert world.now().here_for_repair

    for _ in range(2):
        fetched(job=world.job, by=world.teacher, at=LATER)

    assert world.now().whereabouts.words == "with Mia Stone"
    assert "Ask the family to bring it" not in world.page(f"jobs/{world.job.pk}/")
    assert [one.words for one in world.job.steps.all()].count("fetched: it is with who has it on loan") == 1


def test_clocks_that_disagree_do_not_let_it_go_before_it_came(world):
    world.brought()

    fetched(job=world.job, by=world.teacher, at=NOW - timedelta(days=1))

    world.job.refresh_from_db()
    assert world.job.fetched_at == world.job.brought_at


def test_fetched_unmended_the_work_waits_again_and_can_be_brought_again(world):
    world.brought()

    fetched(job=world.job, by=world.teacher, at=LATER)

    world.job.refresh_from_db()
    assert (world.job.state, world.now().whereabouts.code) == ("waiting", "out")
    world.brought()
    assert world.now().here_for_repair


def test_a_horn_on_loan_goes_to_the_repairers_and_comes_back_before_it_is_fetched(world):
    sent = Outside(repairer="Vale Workshop", sent_on=TODAY)
    with pytest.raises(Refused):
        change_outside(job=world.job, by=world.technician, at=LATER, seen=0, said=sent)
    world.brought()
    step = world.job.steps.last().pk
    change_outside(job=world.job, by=world.technician, at=LATER, seen=step, said=sent)

    assert world.now().whereabouts.words == "at the repairer’s, Vale Workshop"
    with pytest.raises(Refused) as no:
        fetched(job=world.job, by=world.teacher, at=LATER)
    assert no.value.way_out.page == "workshop:job-outside"


def test_a_loan_that_ends_while_the_horn_is_here_leaves_the_work_on_the_bench(world):
    world.brought()
    end(world.loan, horn=world.now(), came_back=[], rest=None, by=world.teacher, on=TODAY, at=LATER)

    assert world.now().whereabouts.words == "in the workshop"
    world.move("done")
    assert not world.now().on_bench


def test_no_letter_asks_for_a_horn_that_is_here_for_repair(world):
    world.loan.due_on = TODAY
    world.loan.save()
    rules, day = LendingRules(school=world.school, days_before="1", days_after="1"), TODAY + timedelta(days=1)
    assert [loan for loan, _ in due_letters(world.school, rules, day)] == [world.loan]

    world.brought()

    assert list(due_letters(world.school, rules, day)) == []


def test_the_family_reads_when_to_bring_it_and_says_that_it_will(world):
    assert world.told(bring_on=WEDNESDAY, bring_words="Room 10, before eight").status_code == 302
    page = folded(world.family.get(f"/family/{world.loan.pk}/"))
    assert "Please bring it to be mended on" in page
    assert "Room 10, before eight" in page

    answer = world.family.post(f"/family/{world.loan.pk}/bring/", {"day": WEDNESDAY})

    assert answer.url == f"/family/{world.loan.pk}/"
    assert "You said that you bring it." in folded(world.family.get(answer.url))
    assert "The family says that it brings it." in world.page(f"jobs/{world.job.pk}/")


def test_where_no_day_is_said_nobody_reads_that_the_family_was_told(world):
    world.told()
    assert "No day is said, so the family is told nothing." in world.page(f"jobs/{world.job.pk}/")

    world.told(bring_on=WEDNESDAY)
    assert "The family reads it on its page." in world.page(f"jobs/{world.job.pk}/")


def test_another_day_is_to_be_read_anew(world):
    world.told(bring_on=WEDNESDAY)
    world.job.refresh_from_db()
    bring(job=world.job, bring_on=WEDNESDAY, by=world.guardian.user, at=LATER)
    world.told(bring_on=WEDNESDAY + timedelta(days=1))

    world.job.refresh_from_db()
    assert world.job.bring_seen_at is None
    with pytest.raises(Refused) as no:
        bring(job=world.job, bring_on=WEDNESDAY, by=world.guardian.user, at=LATER)
    assert no.value.sentence.startswith("The school has named another day")


def test_the_family_is_told_what_was_done_once_it_was_checked(world):
    make.finding(make.check(world.horn, world.technician, grade=3), "string-broken", "r", job=world.job)
    world.brought()
    page = f"/family/{world.loan.pk}/"
    assert "It is at the school to be mended" in folded(world.family.get(page))
    world.move("done")
    assert "The school looks the horn over" in folded(world.family.get(page))
    make.check(world.horn, world.technician, at=LATER + timedelta(hours=1))
    make.keep([world.horn])
    assert "fetch" in world.owed()

    assert world.told(fetch_on=WEDNESDAY).status_code == 302

    read = folded(world.family.get(page))
    assert "Please fetch it, from" in read
    assert "Mended: " in read


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ({"bring_on": NOWADAYS - timedelta(days=1)}, "Choose a day from today on, within a year."),
        ({"bring_on": NOWADAYS + timedelta(days=367)}, "Choose a day from today on, within a year."),
        ({"bring_words": "Room 10"}, "Say on which day."),
        ({"bring_on": WEDNESDAY, "fetch_on": NOWADAYS}, "It cannot be fetched before it is brought."),
    ],
)
def test_what_cannot_be_is_said_beside_the_field(world, said, sentence):
    answer = world.told(**said)

    assert answer.status_code == 422
    assert sentence in folded(answer)


def test_there_is_no_family_to_tell_where_nobody_has_the_horn(world):
    Loan.objects.all().delete()
    make.keep([world.horn])

    assert world.told(bring_on=WEDNESDAY).status_code == 409


def test_another_familys_horn_cannot_be_promised(world, as_):
    world.told(bring_on=WEDNESDAY)
    other = make.guardian(world.school)
    make.pupil(world.school, other)

    answer = as_(other.user).post(f"/family/{world.loan.pk}/bring/", {"day": WEDNESDAY})

    assert answer.status_code == 404


def test_the_school_cares_for_a_brought_horn_by_its_own_page_as_by_the_list(db, as_):
    school = make.school()
    technician, horn = make.staff(Role.TECHNICIAN, school), make.horn(school)
    make.loan(horn, make.pupil(school), technician)
    page, browser = f"/s/{school.slug}/horns/{horn.pk}/care/", as_(technician)
    assert "A family has it" in folded(browser.get(page))

    make.job(horn, technician, state="bench", brought_at=make.NOW)
    horn.refresh_from_db()

    assert horn in [due.horn for due in care_due(school, TODAY)[Kind.OIL]]
    assert [(one.by_family, one.is_due) for one in care_of(horn, TODAY)[0][:3]] == [(False, True)] * 3
    assert "A family has it" not in folded(browser.get(page))
