"""What a condition check does to the horn, its findings and its repair job."""

from __future__ import annotations

from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.db import connection

from fleet.ground.access import Role
from fleet.ground.refusal import Refused, WayOut
from fleet.register.actions.keeping import keep
from fleet.register.models import Horn
from fleet.workshop.actions.checking import Found, log_check
from fleet.workshop.actions.jobs import Work, change_job, open_job
from fleet.workshop.actions.mending import step
from fleet.workshop.models import ConditionCheck, Finding, RepairJob
from fleet.workshop.queries.condition import condition_of, latest_check, open_findings
from fleet.workshop.queries.told import STORY
from tests import make
from tests.reading import story_of

NOW = make.NOW
LATER = NOW + timedelta(days=3)


@pytest.fixture
def world(db: None):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school)
        elsewhere = make.horn(make.school())

    return World


def checked(world, *found: Found, at=NOW, horn=None) -> ConditionCheck:
    return log_check(
        horn=horn or world.horn, by=world.technician, at=at, occasion="yearly", finish_grade=2, found=found
    )


def test_a_check_moves_the_grade_and_the_day_of_this_horn_only(world):
    check = checked(world, Found("string-frayed", "w"), Found("bell-dented", "n"))

    world.horn.refresh_from_db()
    world.elsewhere.refresh_from_db()
    assert (check.grade, world.horn.grade, world.horn.checked_on) == (2, 2, NOW.date())
    assert (world.elsewhere.grade, world.elsewhere.checked_on) == (None, None)
    assert not RepairJob.objects.exists()


def test_a_finding_that_stops_a_loan_opens_the_repair_job(world):
    checked(world, Found("string-broken", "r", "second valve"), Found("bell-dented", "n"))

    [job] = world.horn.jobs.all()
    assert [(one.fault, one.note) for one in job.findings.all()] == [("string-broken", "second valve")]
    assert (job.state, job.opened_by) == ("waiting", world.technician)


def test_a_second_check_adds_to_the_open_job_and_keeps_what_was_on_it(world):
    checked(world, Found("string-broken", "r"))
    checked(world, Found("string-broken", "w"), Found("slide-loose", "r"), Found("bell-dented", "n"), at=LATER)

    [job] = world.horn.jobs.all()
    newest = latest_check(world.horn)
    assert set(job.findings.filter(check_made=newest).values_list("fault", flat=True)) == {
        "string-broken",
        "slide-loose",
    }


def test_a_fault_left_out_of_the_next_check_counts_as_gone(world):
    checked(world, Found("string-broken", "r"), Found("bell-dented", "n"))
    checked(world, Found("bell-dented", "n"), at=LATER)

    assert [one.fault for one in open_findings(world.horn)] == ["bell-dented"]
    assert Finding.objects.get(fault="string-broken").mended_at == LATER
    assert latest_check(world.horn).grade == 1


def test_the_newest_word_on_a_fault_counts(world):
    checked(world, Found("string-frayed", "w"))
    checked(world, Found("string-frayed", "r", "nearly through"), at=LATER)

    assert [(one.severity, one.note) for one in open_findings(world.horn)] == [("r", "nearly through")]


def test_looks_never_stop_a_loan(world):
    with pytest.raises(Refused, match="Finish never stops a loan"):
        checked(world, Found("finish-worn", "r"))

    checked(world, Found("finish-worn", "n"))
    world.horn.refresh_from_db()
    assert world.horn.kept_back == []


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        ((Found("wings-missing", "r"),), "There is no fault 'wings-missing' in the catalogue."),
        ((Found("bell-torn", "!"),), "A severity is n, w, r or x, not '!'."),
        ((Found("bell-torn", "x"), Found("bell-torn", "r")), "A fault stands on a check once."),
    ],
)
def test_findings_that_cannot_be_are_refused_and_nothing_is_kept(world, found, sentence):
    with pytest.raises(Refused) as no:
        checked(world, *found)

    assert no.value.sentence == sentence
    assert not ConditionCheck.objects.exists()


def test_a_withdrawn_horn_is_neither_checked_nor_mended(world):
    gone = make.horn(world.school, withdrawn_on=NOW.date())

    with pytest.raises(Refused, match="is withdrawn"):
        checked(world, horn=gone)
    with pytest.raises(Refused, match="is withdrawn"):
        open_job(horn=gone, by=world.technician, at=NOW, notes="new leadpipe")
    assert not ConditionCheck.objects.exists()
    assert not RepairJob.objects.exists()


def test_a_horn_strung_the_right_way_again_owes_the_test_note(world):
    checked(world, Found("strung-for-other-stand", "r"))
    world.horn.refresh_from_db()
    assert not world.horn.test_note_owed

    checked(world, at=LATER)
    world.horn.refresh_from_db()
    assert world.horn.test_note_owed

    said = {"observations": {"test_note": "1"}, "build": "double-full", "stands_in": "F", "by": world.technician}
    world.horn.identifications.create(at=LATER, **said)
    keep([world.horn])
    world.horn.refresh_from_db()
    assert not world.horn.test_note_owed


@pytest.mark.parametrize(
    ("grade", "sentence", "way_out"),
    [
        (None, "{horn} has never been checked.", "workshop:check-new"),
        (3, "{horn} is graded 3, repair before the next loan.", "workshop:job-new"),
        (4, "{horn} is graded 4, must not be played.", "workshop:job-new"),
    ],
)
def test_a_grade_that_blocks_a_loan_says_so_with_the_way_out(world, grade, sentence, way_out):
    horn = make.horn(world.school, grade=grade)

    (no,) = horn.kept_back

    assert (no.sentence, no.way_out.page, no.way_out.args) == (sentence.format(horn=horn), way_out, (horn.pk,))


@pytest.mark.parametrize("grade", [1, 2])
def test_a_horn_that_plays_may_be_lent_as_far_as_the_bench_goes(world, grade):
    assert make.horn(world.school, grade=grade).kept_back == []


def test_a_job_is_opened_by_hand_for_small_faults_and_only_for_this_horns(world):
    mine = Finding.objects.get(check_made=checked(world, Found("bell-dented", "n")))
    theirs = make.finding(make.check(world.elsewhere, world.technician), "bell-torn", "x")

    job = open_job(horn=world.horn, by=world.technician, at=LATER, findings=[mine, theirs])

    assert list(job.findings.all()) == [mine]


def test_a_job_about_nothing_is_refused(world):
    with pytest.raises(Refused, match="Tick a fault, or say what is to be done"):
        open_job(horn=world.horn, by=world.technician, at=NOW, notes="  ")


def test_a_second_open_job_is_refused_with_the_way_to_the_first(world):
    open_job(horn=world.horn, by=world.technician, at=NOW, notes="leadpipe")

    with pytest.raises(Refused, match="already has an open job") as no:
        open_job(horn=world.horn, by=world.technician, at=NOW, notes="leadpipe")
    assert no.value.way_out == WayOut("workshop:job-new", "Go to the open job", (world.horn.pk,))


def condition(horn):
    return condition_of(horn, horn.checks.prefetch_related("findings"), horn.jobs.open().first())


def test_the_condition_of_a_horn_takes_three_queries_for_one_finding_and_for_three(world, django_assert_num_queries):
    checked(world, Found("bell-torn", "x"))
    three = make.horn(world.school)
    checked(world, Found("bell-torn", "x"), Found("bell-dented", "n"), Found("slide-loose", "r"), horn=three)

    with django_assert_num_queries(3):
        assert len(condition(world.horn).findings) == 1
    with django_assert_num_queries(3):
        found = condition(three)
    assert [one.fault for one in found.findings] == ["bell-torn", "slide-loose", "bell-dented"]
    assert found.job == three.jobs.get()


def test_the_story_of_a_horn_is_newest_first_and_about_that_horn_only(world, django_assert_num_queries):
    other = make.horn(world.school)
    checked(world, Found("bell-torn", "x"), horn=other)
    checked(world, Found("string-broken", "r"))
    guardian = make.guardian(world.school)
    make.report(world.horn, guardian.user)

    with django_assert_num_queries(3):
        told = story_of(world.horn, STORY).told()
    assert [(one.kind, one.sentence) for one in told] == [
        ("check", "Checked, yearly: repair before the next loan (string broken)."),
        ("repair", "Repair job: opened by a condition check."),
        ("report", "The family reports: The third valve sticks."),
    ]
    checked(world, at=LATER)
    checked(world, at=LATER + timedelta(days=1))
    with django_assert_num_queries(3):
        told = story_of(world.horn, STORY).told()
    assert [one.at for one in told] == sorted((one.at for one in told), reverse=True)


def test_of_two_steps_of_a_job_in_one_moment_the_later_stands_above(world):
    job = make.job(world.horn, world.technician)
    for words in ("opened", "on the bench"):
        step(job=job, words=words, by=world.technician, at=NOW)

    told = [one.sentence for one in story_of(world.horn, STORY).told()]

    assert told == ["Repair job: on the bench.", "Repair job: opened."]


def test_horns_mended_and_not_tried_since_are_known_until_they_are_checked(world):
    checked(world, Found("string-broken", "r"))
    RepairJob.objects.update(state="done", closed_at=LATER)
    keep([world.horn])
    make.job(world.elsewhere, world.technician, state="done")

    assert list(Horn.objects.at(world.school).mended_unchecked()) == [world.horn]
    world.horn.refresh_from_db()
    assert condition(world.horn).mended_since

    checked(world, at=LATER + timedelta(hours=1))
    assert not Horn.objects.at(world.school).mended_unchecked().exists()


@pytest.mark.django_db(transaction=True)
def test_two_people_checking_the_same_horn_at_once_open_one_job(transactional_db):
    school = make.school()
    people = [make.staff(Role.TECHNICIAN, school) for _ in range(2)]
    horn = make.horn(school)
    start, trouble = Barrier(2), []

    def check(person, fault):
        try:
            start.wait(timeout=10)
            log_check(horn=horn, by=person, at=NOW, occasion="other", finish_grade=1, found=[Found(fault, "r")])
        except Exception as wrong:
            trouble.append(wrong)
        finally:
            connection.close()

    threads = [Thread(target=check, args=pair) for pair in zip(people, ("string-broken", "slide-loose"), strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)

    assert trouble == []
    assert (ConditionCheck.objects.count(), RepairJob.objects.count()) == (2, 1)


# Checks that arrive late


def look(horn, by, at, *found: Found):
    return log_check(horn=horn, by=by, at=at, occasion="yearly", finish_grade=2, found=list(found))


def test_a_check_that_arrives_after_a_newer_one_moves_nothing(db):
    school = make.school()
    ann, bo = make.staff(Role.TECHNICIAN, school), make.staff(Role.TECHNICIAN, school)
    horn = make.horn(school)
    newest = look(horn, bo, make.NOW, Found("bell-dented", "n"))

    late = look(horn, ann, make.NOW - timedelta(hours=2), Found("rotor-frozen", "x"), Found("bell-dented", "n"))

    horn.refresh_from_db()
    assert (horn.grade, horn.checked_on) == (1, make.TODAY)
    assert not horn.jobs.exists()
    assert dict(late.findings.values_list("fault", "mended_at")) == {"rotor-frozen": newest.at, "bell-dented": None}
    assert [one.fault for one in open_findings(horn)] == ["bell-dented"]


def test_a_check_made_before_a_repair_and_sent_after_it_opens_no_second_job(db):
    school = make.school()
    ann = make.staff(Role.TECHNICIAN, school)
    horn = make.horn(school)
    look(horn, ann, make.NOW, Found("slide-loose", "r"))
    job = horn.jobs.get()
    done = make.NOW + timedelta(hours=3)
    change_job(job=job, by=ann, at=done, seen=job.steps.last().pk, work=Work(state="done"))

    look(horn, ann, make.NOW + timedelta(hours=1), Found("slide-loose", "r"))

    assert [one.pk for one in horn.jobs.all()] == [job.pk]
    assert open_findings(horn) == []
