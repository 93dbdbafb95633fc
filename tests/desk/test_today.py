from datetime import date, timedelta

import pytest

from fleet.desk.queries.piles import Day, Pile, Task
from fleet.desk.queries.today import in_sight, piles
from fleet.ground import paging
from fleet.ground.access import Role
from fleet.people.models import School
from fleet.people.queries.seats import Seat
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db


def today_page(as_, person, school):
    return as_(person).get(f"/s/{school.slug}/").content.decode()


@pytest.fixture
def days(settings):
    """Offsets from the day the page is asked for, since Today is about today."""
    from django.utils import timezone

    return lambda n: timezone.localdate() + timedelta(days=n)


def test_an_overdue_horn_leads_a_teacher_to_taking_it_back(as_, days):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    horn = make.horn(school, number="HN-7")
    loan = make.loan(horn, make.pupil(school, name="Ada"), teacher, issued_on=days(-40), due_on=days(-3))

    page = today_page(as_, teacher, school)

    assert "HN-7: take back from Ada" in page
    assert "3 days overdue" in page
    assert f'href="/s/{school.slug}/loans/{loan.pk}/return/"' in page


def test_a_horn_due_within_the_schools_notice_is_due_soon_and_a_later_one_is_not(as_, days):
    school = make.school(soon_days=14)
    teacher = make.staff(Role.TEACHER, school)
    near, far = make.horn(school, number="NEAR-1"), make.horn(school, number="FAR-1")
    make.loan(near, make.pupil(school), teacher, issued_on=days(-1), due_on=days(14))
    make.loan(far, make.pupil(school), teacher, issued_on=days(-1), due_on=days(15))

    page = today_page(as_, teacher, school)

    assert "14 days left" in page
    assert "NEAR-1" in page
    assert "FAR-1" not in page


def test_a_familys_report_waits_until_it_is_answered(as_):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    guardian = make.guardian(school, name="Maria")
    report = make.report(make.horn(school, number="HN-9"), guardian.user, words="It rattles.")

    assert "HN-9: “It rattles.”" in today_page(as_, head, school)

    report.answered_at = make.NOW
    report.save()
    assert "It rattles." not in today_page(as_, head, school)


def test_an_unidentified_horn_leads_to_the_walk_about_that_horn(as_):
    school = make.school()
    horn = make.horn(school, build="", number="X-1")

    page = today_page(as_, make.staff(Role.TEACHER, school), school)

    assert "X-1: find out what it is" in page
    assert f"/s/{school.slug}/identify/?horn={horn.pk}" in page


def test_the_technicians_day_is_reports_and_the_bench_not_loans(as_, days):
    school = make.school()
    technician = make.staff(Role.TECHNICIAN, school)
    late = make.horn(school, number="LATE-1")
    make.loan(late, make.pupil(school), technician, issued_on=days(-40), due_on=days(-3))
    make.job(make.horn(school, number="BENCH-1"), technician, state="waiting")

    page = today_page(as_, technician, school)

    assert "BENCH-1" in page
    assert "LATE-1" not in page


def test_another_schools_work_does_not_show(as_, days):
    school, other = make.school(), make.school()
    head, their_head = make.staff(Role.HEAD, school), make.staff(Role.HEAD, other)
    make.horn(school)
    theirs = make.horn(other, number="THEIRS-1")
    make.loan(theirs, make.pupil(other), their_head, issued_on=days(-40), due_on=days(-3))
    make.horn(other, build="", number="THEIRS-2")

    page = today_page(as_, head, school)

    assert "THEIRS" not in page
    assert "Due for a check" in page


@pytest.mark.parametrize(("parts", "more"), [(6, False), (7, True)])
def test_a_pile_shows_six_and_leads_on_when_there_are_more(as_, parts, more):
    school = make.school()
    for _ in range(parts):
        make.part(school, on_hand=0, minimum=2)

    page = today_page(as_, make.staff(Role.TECHNICIAN, school), school)

    assert page.count("Order ") == (3 if more else 6)
    assert ("All 7" in page) is more


def test_a_new_school_begins_with_its_list_and_ticks_off_what_is_done(as_, days):
    school = make.school()
    head = make.staff(Role.HEAD, school)

    def steps() -> dict[str, bool]:
        return {step.what: step.done for step in as_(head).get(f"/s/{school.slug}/").context["first_steps"]}

    assert steps() == dict.fromkeys(
        (
            "Bring in your list",
            "Add the staff",
            "Say where horns are kept",
            "Identify the first horn",
            "Add the pupils",
            "Issue the first horn",
        ),
        False,
    )
    assert "Begin here" in today_page(as_, head, school)
    teacher = make.staff(Role.TEACHER, school)
    unknown = make.horn(school, build="")
    assert [what for what, done in steps().items() if done] == ["Bring in your list", "Add the staff"]
    make.place(school)
    make.horn(school)
    pupil = make.pupil(school)
    assert [what for what, done in steps().items() if not done] == ["Issue the first horn"]
    assert "Nothing is waiting" not in today_page(as_, head, school)
    assert "Bring in your list" not in today_page(as_, teacher, school)

    make.loan(unknown, pupil, teacher, issued_on=days(-1), returned_on=days(0))
    assert steps() == {}


def test_a_quiet_day_says_so(as_, days):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    horn = make.horn(school)
    cleaned = {"mouthpiece_cleaned_on": days(-2), "mouthpiece_cleaned_by": head}
    make.loan(horn, make.pupil(school), head, issued_on=days(-9), returned_on=days(-2), **cleaned)
    make.check(horn, head)
    horn.checked_on = days(-1)
    horn.save(update_fields=["checked_on"])

    assert "Nothing is waiting." in today_page(as_, head, school)


# With one row of each no pile is full, with nine each of six.
@pytest.mark.parametrize("rows", [1, 3, 9])
def test_today_asks_as_many_questions_for_many_rows_as_for_one(as_, days, rows, django_assert_num_queries):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    guardian = make.guardian(school)
    for _ in range(rows):
        make.loan(make.horn(school), make.pupil(school), head, issued_on=days(-40), due_on=days(-3))
        make.loan(make.horn(school), make.pupil(school), head, issued_on=days(-1), due_on=days(3))
        make.horn(school, build="")
        make.job(make.horn(school), head)
        make.report(make.horn(school), guardian.user)
    client = as_(head)

    # Session, account, seat, which rows there are, and all of them: loans, reports, horns, jobs.
    with django_assert_num_queries(5):
        client.get(f"/s/{school.slug}/")


def test_what_was_called_back_or_went_with_a_leaver_is_not_told_again_as_due_soon(as_, days):
    school = make.school(soon_days=14)
    teacher = make.staff(Role.TEACHER, school)
    lent = {"issued_on": days(-9), "due_on": days(9)}
    make.recalled(make.loan(make.horn(school, number="BACK-1"), make.pupil(school), teacher, **lent), teacher)
    make.loan(make.horn(school, number="LEFT-1"), make.pupil(school, left_on=days(-1)), teacher, **lent)
    make.loan(make.horn(school, number="SOON-1"), make.pupil(school), teacher, **lent)

    page = as_(teacher).get(f"/s/{school.slug}/")

    told = {pile.title: [task.what for task in pile.tasks] for pile in page.context["piles"]}
    assert [what[:6] for what in told["Due soon"]] == ["SOON-1"]
    assert [what[:6] for what in told["Recalled, not back yet"]] == ["BACK-1"]
    assert [what[:6] for what in told["Left the school with a horn"]] == ["LEFT-1"]


def test_a_day_of_another_year_has_its_year(as_, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    for due in (date(2025, 12, 31), date(2026, 1, 1)):
        make.loan(make.horn(school), make.pupil(school), teacher, issued_on=date(2025, 9, 1), due_on=due)

    page = folded(as_(teacher).get(f"/s/{school.slug}/"))

    for said in ("31 Dec 2025", "1 Jan"):
        assert f'<span class="when">{said}</span>' in page, said


def in_order(head, school):
    role = Role(head.posts.get(school=school).role)
    return [pile.title for pile in piles(Day(Seat(user=head, school=school, role=role), make.NOW))]


def test_what_families_say_presses_in_the_order_of_a_horns_page():
    school = make.school()
    head, guardian = make.staff(Role.HEAD, school), make.guardian(school)
    pupil = make.pupil(school, guardian)
    loan = make.loan(make.horn(school), pupil, head, due_on=make.TODAY + timedelta(days=200))
    ask = make.ask(loan, guardian.user, kind="renew")
    report = make.report(loan.horn, guardian.user, pupil=pupil, still_plays=True)

    assert in_order(head, school)[:2] == ["Families report", "Families ask"]
    type(ask).objects.update(kind="lost")
    assert in_order(head, school)[:2] == ["Families ask", "Families report"]
    type(report).objects.update(still_plays=False)
    assert in_order(head, school)[:2] == ["Families report", "Families ask"]


def test_what_is_late_at_the_repairers_presses_for_a_head():
    school = make.school()
    head, guardian = make.staff(Role.HEAD, school), make.guardian(school)
    pupil = make.pupil(school, guardian)
    loan = make.loan(make.horn(school), pupil, head, due_on=make.TODAY + timedelta(days=200))
    make.report(loan.horn, guardian.user, pupil=pupil, still_plays=True)
    sent, expected = make.TODAY - timedelta(days=9), make.TODAY - timedelta(days=1)
    make.job(make.horn(school), head, state="away", repairer="Brass House", sent_on=sent, expected_on=expected)

    assert in_order(head, school)[:2] == ["Late at the repairer’s", "Families report"]
    assert "Late at the repairer’s" not in in_order(make.staff(Role.TEACHER, school), school)


def pile(title: str, *late: bool) -> Pile:
    return Pile(title, [Task(title, "/", late=one) for one in late])


def test_six_piles_stand_open_and_of_seven_the_first_four_and_what_is_late():
    six = [pile(str(number), False) for number in range(6)]
    assert in_sight(six) == (six, [])

    seven = [*six, pile("late", False, True)]
    opened, folded = in_sight(seven)

    assert [one.title for one in opened] == ["0", "1", "2", "3", "late"]
    assert [one.title for one in folded] == ["4", "5"]


def test_a_folded_pile_says_how_many_it_holds_as_far_as_they_were_counted():
    few, uncounted = pile("few", False, False), pile("uncounted", *[False] * 7)
    counted = [Pile("counted", uncounted.tasks, total=many) for many in (30, 1000, 1001)]

    piles = (few, uncounted, *counted)
    assert [one.many for one in piles] == ["2", "more than 6", "30", "1000", "more than 1,000"]
    assert [one.in_all for one in piles] == ["", "", "30", "1000", ""]


@pytest.mark.both_engines
def test_rows_are_counted_to_one_more_than_is_said(monkeypatch):
    monkeypatch.setattr(paging, "COUNTED_TO", 2)
    school = make.school()
    told = []
    for _ in range(4):
        make.horn(school)
        told.append(School.objects.values_list(paging.HowMany(school.horns.all())).get(pk=school.pk)[0])
    assert told == [1, 2, 3, 3]
