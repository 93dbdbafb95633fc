"""The bench's pages as staff meet them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.register.actions.keeping import keep
from fleet.workshop.models import FaultReport, JobStep, RepairJob
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.both_engines


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        other = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        teacher = make.staff(Role.TEACHER, school)
        horn = make.horn(school)
        elsewhere = make.horn(other)
        browser = as_(technician)

        @classmethod
        def at(cls, path: str, school=None) -> str:
            return f"/s/{(school or cls.school).slug}/{path}"

        @classmethod
        def job(cls, *faults: tuple[str, str], horn=None, **fields) -> RepairJob:
            return make.job_with(horn or make.horn(cls.school), cls.technician, *faults, **fields)

    return World


def typed(**changed) -> dict[str, str]:
    return {"state": "waiting", "technician": "", "minutes": "", "parts": "", "cost": "", "notes": "", **changed}


# The bench list


def test_the_bench_list_is_in_order_with_a_reason_a_row(world):
    note, stop = world.job(("bell-dented", "n")), world.job(("string-broken", "r"))
    world.job(("rotor-frozen", "x"), horn=world.elsewhere)

    page = world.browser.get(world.at("bench/"))

    assert [turn.job for turn in page.context["turns"]] == [stop, note]
    assert "stops a loan · 15 min" in page.content.decode()
    assert world.elsewhere.number not in page.content.decode()


def test_an_empty_bench_says_how_a_horn_comes_on_it(world):
    assert "Nothing to mend." in world.browser.get(world.at("bench/")).content.decode()


def test_the_bench_is_filtered_by_state_and_technician_and_nonsense_shows_everything(world):
    mine = world.job(("string-broken", "r"), technician=world.technician)
    bench = world.job(("string-broken", "r"), state="bench")
    done = world.job(("string-broken", "r"), state="done")

    def shown(query: str) -> set[RepairJob]:
        context = world.browser.get(world.at(f"bench/?{query}")).context
        return {turn.job for turn in context.get("turns") or []} | set(context.get("closed") or [])

    assert shown("whose=mine") == {mine}
    assert shown("whose=free") == {bench}
    assert shown("state=bench") == {bench}
    assert shown("state=done") == {done}
    assert shown("state=mended&whose=%00&page=-7") == {mine, bench}


@pytest.mark.parametrize("query", ["", "?state=done"])
def test_the_bench_list_takes_as_many_queries_for_three_rows_as_for_one(world, query, django_assert_num_queries):
    def fill() -> None:
        make.report(make.horn(world.school), world.technician)
        world.job(("string-broken", "r"), ("bell-torn", "x"), technician=world.technician)
        world.job(("slide-loose", "r"), state="done", technician=world.technician)
        RepairJob.objects.filter(state="done").update(closed_at=make.NOW + timedelta(hours=1))
        keep(world.school.horns.all())

    counts = {"": 13, "?state=done": 9}
    fill()
    world.browser.get(world.at("bench/"))
    with django_assert_num_queries(counts[query]):
        world.browser.get(world.at(f"bench/{query}"))
    fill()
    fill()
    with django_assert_num_queries(counts[query]):
        page = world.browser.get(world.at(f"bench/{query}"))
    assert (len(page.context["reports"]), len(page.context["to_check"])) == (3, 3)


def test_a_mended_horn_stands_on_the_page_until_it_is_checked(world):
    job = world.job(("string-broken", "r"), state="done")
    RepairJob.objects.update(closed_at=make.NOW + timedelta(hours=1))
    keep([job.horn])

    assert list(world.browser.get(world.at("bench/")).context["to_check"]) == [job.horn]


def test_what_was_mended_is_told_with_its_day_and_with_where_it_is(world):
    here, out = [world.job(("string-broken", "r"), state="done").horn for _ in "ab"]
    make.loan(out, make.pupil(world.school, name="Ada"), world.technician)
    RepairJob.objects.update(closed_at=make.NOW + timedelta(hours=1))
    keep([here, out])

    page = folded(world.browser.get(world.at("bench/")))

    assert page.count("mended 14 Sep") == 2
    assert page.count("with Ada") == 1


# A job


def test_done_leads_straight_to_the_check_after_the_repair(world):
    job = world.job(("string-broken", "r"))

    answer = world.browser.post(world.at(f"jobs/{job.pk}/"), typed(state="done", seen="0"))

    bench = world.at("bench/").replace("/", "%2F")
    assert answer.url == world.at(f"horns/{job.horn_id}/check/") + f"?occasion=after-repair&next={bench}"
    page = world.browser.get(answer.url)
    assert page.context["form"]["occasion"].value() == "after-repair"
    assert page.context["grade"] == 1


def test_a_stale_form_comes_back_with_both_versions_and_can_then_be_saved(world):
    job = world.job(("string-broken", "r"), notes="Old string is silk.")
    other = make.staff(Role.TECHNICIAN, world.school, name="Bo Lund")
    RepairJob.objects.update(state="parts", notes="Cord is ordered.")
    step = JobStep.objects.create(job=job, at=make.NOW, by=other, state="parts", words="waiting for parts, notes")

    answer = world.browser.post(world.at(f"jobs/{job.pk}/"), typed(notes="I have cord.", seen="0"))

    said = answer.content.decode()
    assert answer.status_code == 409
    assert "Bo Lund changed this job" in said
    assert "I have cord." in said
    assert "Cord is ordered." in said
    again = world.browser.post(
        world.at(f"jobs/{job.pk}/"), typed(notes="I have cord.", seen=answer.context["form"]["seen"].value())
    )
    assert again.status_code == 302
    job.refresh_from_db()
    assert (job.state, job.notes) == ("waiting", "I have cord.")
    assert next(iter(job.steps.values_list("pk", flat=True))) == step.pk


def test_a_stale_form_takes_over_what_the_other_changed_where_nothing_was_typed(world):
    job = world.job(("string-broken", "r"), notes="Old string is silk.", minutes=10)
    page, address = world.browser.get(world.at(f"jobs/{job.pk}/")), world.at(f"jobs/{job.pk}/")
    shown = page.context["form"]
    RepairJob.objects.update(minutes=25, cost="4.50", technician=world.technician)
    JobStep.objects.create(job=job, at=make.NOW, by=world.technician, state="waiting", words="minutes, cost")
    was = {f"initial-{name}": shown[name].value() or "" for name in shown.kept}
    assert all(f'name="{name}"' in page.content.decode() for name in was)

    answer = world.browser.post(
        address, {**was, **typed(state="waiting", notes="I have cord.", minutes="10", seen=shown["seen"].value())}
    )
    form = answer.context["form"]
    again = world.browser.post(address, {name: form[name].value() or "" for name in form.fields})

    assert (answer.status_code, again.status_code) == (409, 302)
    job.refresh_from_db()
    assert (job.minutes, job.cost, job.technician, job.notes) == (25, Decimal("4.50"), world.technician, "I have cord.")


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("cost", "-5", "A repair cannot cost less than nothing."),
        ("cost", "99999999999999", "That is more than any repair costs. Look at the figure again."),
        ("cost", "12.345", "Give the cost with at most two decimals."),
        ("cost", "NaN", "Write a number, like 12.50."),
        ("cost", "twelve", "Write a number, like 12.50."),
        ("minutes", "-1", "Work cannot take less than no time."),
        ("minutes", "100001", "That is more than a working year."),
        ("state", "exploded", "Choose one from the list."),
    ],
)
def test_nonsense_in_a_job_is_answered_and_the_rest_is_kept(world, field, value, sentence):
    job = world.job(("string-broken", "r"))

    answer = world.browser.post(
        world.at(f"jobs/{job.pk}/"), typed(**{"notes": "Kept 🎺 שלום", "seen": "0", field: value})
    )

    assert answer.status_code == 422
    assert sentence in str(answer.context["form"].errors)
    assert "Kept 🎺 שלום" in answer.content.decode()
    job.refresh_from_db()
    assert (job.cost, job.minutes, job.state, job.notes) == (None, None, "waiting", "")


def test_a_technician_of_another_school_cannot_be_given_a_job_here(world):
    job = world.job(("string-broken", "r"))
    for stranger in (make.staff(Role.TECHNICIAN, world.other), world.teacher):
        answer = world.browser.post(world.at(f"jobs/{job.pk}/"), typed(technician=stranger.pk, seen="0"))
        assert "technician" in answer.context["form"].errors


def test_a_teacher_reads_a_job_and_does_not_change_it(world, as_):
    job = world.job(("string-broken", "r"), notes="Silk.")
    browser = as_(world.teacher)

    page = browser.get(world.at(f"jobs/{job.pk}/"))

    assert page.context["form"] is None
    assert "Save the job" not in page.content.decode()
    assert browser.post(world.at(f"jobs/{job.pk}/"), typed(seen="0")).status_code == 403


def test_a_horn_that_is_out_is_refused_on_the_page_with_the_way_to_the_horn(world):
    job = world.job(("string-broken", "r"))
    make.loan(job.horn, make.pupil(world.school, name="Mia Stone"), world.technician)

    answer = world.browser.post(world.at(f"jobs/{job.pk}/"), typed(state="bench", seen="0"))

    assert answer.status_code == 409
    assert answer.context["refused"].sentence.startswith(f"{job.horn} is out with Mia Stone.")
    assert f'class="button" href="{world.at(f"horns/{job.horn_id}/")}">Go to {job.horn}</a>' in answer.content.decode()


def test_a_new_job_offers_the_open_faults_and_takes_no_others(world):
    check = make.check(world.horn, world.technician, grade=2)
    mine = make.finding(check, "string-frayed", "w")
    theirs = make.finding(make.check(world.elsewhere, world.technician), "bell-torn", "x")
    page = world.browser.get(world.at(f"horns/{world.horn.pk}/repair/"))
    assert page.context["form"]["findings"].value() == [str(mine.pk)]

    stolen = world.browser.post(world.at(f"horns/{world.horn.pk}/repair/"), {"findings": [theirs.pk]})
    assert stolen.status_code == 422
    good = world.browser.post(world.at(f"horns/{world.horn.pk}/repair/"), {"findings": [mine.pk], "notes": ""})

    job = RepairJob.objects.get()
    assert good.url == world.at(f"jobs/{job.pk}/")
    assert list(job.findings.all()) == [mine]


def test_a_new_job_about_nothing_is_refused_on_the_page(world):
    answer = world.browser.post(world.at(f"horns/{world.horn.pk}/repair/"), {"notes": " "})

    assert answer.status_code == 409
    assert "Tick a fault, or say what is to be done" in answer.content.decode()


def test_asking_for_a_new_job_where_one_is_open_leads_to_that_one(world):
    job = world.job(("string-broken", "r"))

    answer = world.browser.get(world.at(f"horns/{job.horn_id}/repair/"))

    assert answer.url == world.at(f"jobs/{job.pk}/")


def test_a_job_page_takes_as_many_queries_for_three_faults_as_for_one(world, django_assert_num_queries):
    one, three = world.job(("string-broken", "r")), world.job(("a-a", "r"), ("b-b", "w"), ("c-c", "n"))
    for job in (one, three, three):
        make.report(job.horn, world.technician, job=job)
        JobStep.objects.create(job=job, at=make.NOW, by=world.technician, state="waiting", words="notes")
    world.browser.get(world.at("bench/"))

    for job in (one, three):
        with django_assert_num_queries(18):
            world.browser.get(world.at(f"jobs/{job.pk}/"))


# A family's report


@pytest.fixture
def told(world):
    guardian = make.guardian(world.school, name="Rosa Vale")
    pupil = make.pupil(world.school, guardian, name="Mia Vale")
    return make.report(world.horn, guardian.user, "The third valve sticks.", pupil=pupil, still_plays=False)


def test_a_report_is_answered_in_words(world, told, as_):
    teacher = as_(world.teacher)
    page = teacher.get(world.at(f"fault-reports/{told.pk}/")).content.decode()
    assert "The third valve sticks." in page
    assert "Rosa Vale, for Mia Vale" in page

    answer = teacher.post(world.at(f"fault-reports/{told.pk}/"), {"answer": "A drop of oil."})

    assert answer.url == world.at("bench/")
    told.refresh_from_db()
    assert (told.answer, told.answered_by, told.job) == ("A drop of oil.", world.teacher, None)


def test_a_report_is_made_a_repair_job(world, told):
    answer = world.browser.post(world.at(f"fault-reports/{told.pk}/"), {"answer": "", "to_bench": "1"})

    job = RepairJob.objects.get()
    assert answer.url == world.at(f"jobs/{job.pk}/")
    assert "The third valve sticks." in world.browser.get(answer.url).content.decode()
    assert list(job.fault_reports.all()) == [told]


def test_an_answer_that_comes_second_is_refused_and_still_in_the_form(world, told):
    FaultReport.objects.update(answered_at=timezone.now(), answered_by=world.teacher, answer="First.")

    answer = world.browser.post(world.at(f"fault-reports/{told.pk}/"), {"answer": "Second."})

    assert answer.status_code == 409
    said = answer.content.decode()
    assert f"{world.teacher} answered this already" in said
    assert "First." in said
    assert "Second." in said


def test_an_answer_too_long_is_sent_back_whole(world, told):
    answer = world.browser.post(world.at(f"fault-reports/{told.pk}/"), {"answer": "x" * 301})

    assert answer.status_code == 422
    assert "x" * 301 in answer.content.decode()


@pytest.mark.parametrize(
    "page", ["jobs/{job}/", "fault-reports/{report}/", "horns/{horn}/repair/", "horns/{horn}/check/"]
)
def test_another_schools_rows_are_not_there(world, page):
    job = world.job(("bell-torn", "x"), horn=world.elsewhere)
    report = make.report(world.elsewhere, world.technician)
    address = world.at(page.format(job=job.pk, report=report.pk, horn=world.elsewhere.pk))

    assert world.browser.get(address).status_code == 404
    assert world.browser.post(address, {}).status_code == 404
