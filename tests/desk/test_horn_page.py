from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.desk.pages.horns import NEWEST, STORY_PAGE
from fleet.desk.queries.horns import page_of as shown_to
from fleet.desk.queries.horns import plain_sentence
from fleet.ground.access import Role
from fleet.ground.wording import day
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.workshop.actions.reports import report_fault
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def page_of(as_, person, horn):
    return as_(person).get(f"/s/{horn.school.slug}/horns/{horn.pk}/").content.decode()


def test_a_beginners_parent_reads_in_one_sentence_what_it_is(as_):
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="Bb")

    page = page_of(as_, make.staff(Role.TEACHER, school), horn)

    assert "A full double horn in F and B♭." in page
    assert "This one stands in B♭" in page


def test_that_nobody_checked_a_horn_yet_is_one_mark_on_its_page(as_):
    school = make.school()
    horn = make.horn(school)
    teacher = make.staff(Role.TEACHER, school)

    assert page_of(as_, teacher, horn).count("not checked yet") == 1
    make.check(horn, teacher)
    assert "not checked yet" not in page_of(as_, teacher, horn)


def test_how_a_horn_plays_is_one_mark_on_its_page_beside_where_it_is(as_):
    school = make.school()
    horn = make.horn(school)
    teacher = make.staff(Role.TEACHER, school, name="Tom Bell")
    check = make.check(horn, teacher, grade=2)

    page = page_of(as_, teacher, horn)

    assert page.count("plays, small fault</span>") == 1
    assert page.index("plays, small fault</span>") < page.index('class="lead"')
    assert f"Checked {day(timezone.localdate(check.at))}" in " ".join(page.split())


def test_an_alto_horn_is_said_to_be_no_french_horn(as_):
    school = make.school()
    horn = make.horn(school, build="alto-horn-eb", stands_in="Eb")

    assert "is no French horn." in page_of(as_, make.staff(Role.TEACHER, school), horn)


def test_value_is_for_those_who_need_to_know(as_):
    school = make.school(currency="EUR")
    horn = make.horn(school, value="640.00", price="900.50")

    for role, knows in [(Role.HEAD, True), (Role.SERVICE, True), (Role.TEACHER, False), (Role.TECHNICIAN, False)]:
        page = page_of(as_, make.staff(role, school), horn)
        assert ("640.00 EUR" in page, "900.50 EUR" in page) == (knows, knows), role


def test_the_story_is_one_time_line_newest_first(as_):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    horn = make.horn(school)
    make.loan(horn, make.pupil(school, name="Ada"), head, returned_on=make.TODAY + timedelta(days=9))
    make.check(horn, head, at=make.NOW + timedelta(days=20))
    make.report(horn, head, words="It rattles.", at=make.NOW + timedelta(days=30))

    page = page_of(as_, head, horn)

    told = ["It rattles.", "4 Oct 2026", "Came back from Ada", "Lent to Ada"]
    assert sorted(told, key=page.rindex) == told


@pytest.mark.parametrize(("times", "queries"), [(0, 6), (1, 10), (3, 10)])
@pytest.mark.usefixtures("at_ten")
def test_a_horns_page_asks_for_what_the_horn_has_and_once_however_long_its_story(
    as_, times, queries, django_assert_num_queries
):
    school = make.school()
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    client = as_(head)
    if times:
        make.loan(horn, make.pupil(school, make.guardian(school)), head)
        make.job(horn, head)
        for _ in range(times):
            make.loan(horn, make.pupil(school, make.guardian(school)), head, returned_on=make.TODAY)
            make.finding(make.check(horn, head))
            make.job(horn, head, state="done")
            make.report(horn, head)

    with django_assert_num_queries(queries):
        client.get(f"/s/{school.slug}/horns/{horn.pk}/")


@pytest.mark.parametrize("missing", [False, True])
def test_a_job_stands_open_on_the_page_though_its_horn_is_missing_and_no_second_one_is_offered(as_, missing):
    school = make.school()
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    new = reverse("workshop:job-new", args=[school.slug, horn.pk])
    assert new in page_of(as_, head, horn)
    job = make.job(horn, head)
    Horn.objects.filter(pk=horn.pk).update(not_found_on=make.TODAY if missing else None)

    page = page_of(as_, head, horn)

    assert new not in page
    assert f'Repair job: <a href="{reverse("workshop:job", args=[school.slug, job.pk])}">' in page


def test_a_label_takes_a_teacher_straight_to_issuing_a_horn_in_the_cupboard(as_):
    school = make.school()
    horn = make.horn(school)

    answer = as_(make.staff(Role.TEACHER, school)).get(f"/h/{horn.label_code}/")

    assert answer.url == f"/s/{school.slug}/loans/issue/?horn={horn.pk}"


@pytest.mark.parametrize("typed", [str.lower, str.upper])
def test_a_labels_code_may_be_typed_in_either_case(as_, typed):
    school = make.school()
    horn = make.horn(school)

    assert as_(make.staff(Role.HEAD, school)).get(f"/h/{typed(horn.label_code)}/").status_code == 302


def test_a_label_takes_the_technician_to_what_waits_at_the_bench_else_to_the_horns_page(as_):
    school = make.school()
    technician = make.staff(Role.TECHNICIAN, school)
    sound, broken, mended, gone = (make.horn(school) for _ in range(4))
    job = make.job(broken, technician)
    for horn in (mended, gone):
        make.job(horn, technician, state="done")
    Horn.objects.filter(pk=gone.pk).update(withdrawn_on=make.TODAY)

    led = [as_(technician).get(f"/h/{horn.label_code}/").url for horn in (sound, broken, mended, gone)]

    assert led == [
        f"/s/{school.slug}/{to}"
        for to in (
            f"horns/{sound.pk}/",
            f"jobs/{job.pk}/",
            f"horns/{mended.pk}/check/",
            f"horns/{gone.pk}/",
        )
    ]


def test_a_label_takes_its_family_to_their_own_page_and_tells_others_nothing(as_):
    school = make.school()
    horn = make.horn(school)
    mine, stranger = make.guardian(school), make.guardian(school)
    loan = make.loan(horn, make.pupil(school, mine), make.staff(Role.HEAD, school))

    assert as_(mine.user).get(f"/h/{horn.label_code}/").url == f"/family/{loan.pk}/"
    assert as_(stranger.user).get(f"/h/{horn.label_code}/").status_code == 404
    assert as_(stranger.user).get("/h/ABCDEFGH/").status_code == 404
    assert as_(None).get(f"/h/{horn.label_code}/").status_code == 302
    assert Horn.objects.count() == 1


@pytest.mark.parametrize(
    ("build", "stands_in", "told"), [("double-full", "F", True), ("double-full", "", False), ("single-f", "F", False)]
)
def test_how_a_horn_stands_is_told_of_one_that_could_stand_otherwise(build, stands_in, told):
    assert ("This one stands in" in plain_sentence(Horn(build=build, stands_in=stands_in))) is told


def test_a_long_story_comes_in_pages_its_newest_lines_in_sight_and_loses_no_line(as_):
    school = make.school()
    horn, teacher = make.horn(school), make.staff(Role.TEACHER, school)
    for n in range(STORY_PAGE):
        make.check(horn, teacher, at=make.NOW + timedelta(days=n))
    page = reverse("desk:horn", args=[school.slug, horn.pk])

    first, second = (as_(teacher).get(page, {"page": number}) for number in (1, 2))

    assert [len(one.context["story"]) for one in (first, second)] == [STORY_PAGE, 1]
    assert f"Page 1 of 2, {STORY_PAGE + 1} in all" in folded(first)
    seen = [(len(one.context["newest"]), len(one.context["earlier"])) for one in (first, second)]
    assert seen == [(NEWEST, STORY_PAGE - NEWEST), (1, 0)]
    assert f"<summary> {STORY_PAGE - NEWEST} earlier </summary>" in folded(first)


def test_a_report_is_told_once_as_the_next_step_and_the_others_below(as_):
    school = make.school()
    horn, teacher, pupil = make.horn(school), make.staff(Role.TEACHER, school), make.pupil(school)
    page = reverse("desk:horn", args=[school.slug, horn.pk])
    for minute, words in enumerate(["It sticks", "It leaks"]):
        report_fault(
            horn=horn, pupil=pupil, by=teacher, at=make.NOW + timedelta(minutes=minute), words=words, still_plays=True
        )

    shown = as_(teacher).get(page).context

    assert "It sticks" in shown["step"].why
    assert [report.words for report in shown["reports"]] == ["It leaks"]


@pytest.mark.parametrize("plays", [(True, False), (False, True), (True, True)], ids=str)
def test_of_two_reports_each_is_told_once_whichever_the_next_step_takes(as_, plays):
    school = make.school()
    horn, teacher = make.horn(school), make.staff(Role.TEACHER, school)
    for minute, (words, still_plays) in enumerate(zip(["It sticks", "It leaks"], plays, strict=True)):
        make.report(horn, teacher, words=words, still_plays=still_plays, at=make.NOW + timedelta(minutes=minute))

    shown = as_(teacher).get(reverse("desk:horn", args=[school.slug, horn.pk])).context

    told = ["It leaks", "It sticks"] if plays == (True, False) else ["It sticks", "It leaks"]
    assert told[0] in shown["step"].why
    assert [report.words for report in shown["reports"]] == told[1:]


def test_a_report_too_long_for_the_next_step_stands_whole_below_it(as_):
    school = make.school()
    horn, teacher = make.horn(school), make.staff(Role.TEACHER, school)
    report = make.report(horn, teacher, words="It rattles when it is warm, and in the second hour it sticks. " * 3)

    shown = as_(teacher).get(reverse("desk:horn", args=[school.slug, horn.pk])).context

    assert shown["step"].code == "report"
    assert list(shown["reports"]) == [report]


@pytest.mark.parametrize("ready", [True, False])
def test_who_waits_is_offered_a_horn_only_while_it_may_be_lent(as_, ready):
    school = make.school()
    horn, teacher = make.horn(school, build="single-f", stands_in="F"), make.staff(Role.TEACHER, school)
    if ready:
        make.check(horn, teacher)
    wish = make.wish(make.pupil(school, name="Ada"), teacher, since=timezone.localdate())

    page = page_of(as_, teacher, horn)

    assert "<bdi>Ada</bdi>" in page
    assert (f"pupil={wish.pupil_id}" in page) is ready


def test_a_horn_struck_out_is_not_offered_to_be_given_up(as_):
    school = make.school()
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    assert "/disposal/" in page_of(as_, head, horn)
    Horn.objects.filter(pk=horn.pk).update(struck_out=True, withdrawn_on=make.TODAY)
    assert "/disposal/" not in page_of(as_, head, horn)


@pytest.mark.parametrize(("role", "sees"), [(Role.HEAD, True), (Role.TEACHER, True), (Role.TECHNICIAN, False)])
def test_who_waits_and_what_does_not_suit_is_asked_for_those_who_see_it(role, sees):
    school = make.school()
    person, horn = make.staff(role, school), make.horn(school)
    pupil = make.pupil(school, make.guardian(school), needs_kind="double")
    make.loan(horn, pupil, person)
    wish = make.wish(make.pupil(school), person)

    shown = shown_to(horn.pk, Seat(user=person, school=school, role=role), make.TODAY)

    assert shown.wishes == ([wish] if sees else [])
    assert (shown.misfit is not None) is sees
