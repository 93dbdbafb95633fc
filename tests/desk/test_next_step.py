"""The next sensible action: one situation, one role, one button."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.desk.queries.next_step import steps
from fleet.ground.access import Role
from fleet.ground.wording import day
from fleet.people.queries.seats import Seat
from fleet.register.actions.disposing import propose
from fleet.register.models import Horn
from fleet.register.models.kept import IN_MINUTES
from tests import make
from tests.reading import horn_now
from tests.test_two_schools import THEIRS, build

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


@pytest.fixture
def school():
    return make.school(check_days=365)


def step_for(horn, role, school):
    horn.refresh_from_db()
    seat = Seat(user=make.staff(role, school), school=school, role=role)
    return steps(horn_now(horn, today=TODAY), seat)[0]


@pytest.fixture
def ready(school):
    horn = make.horn(school)
    make.check(horn, make.staff(Role.HEAD, school), at=make.NOW - timedelta(days=10))
    return horn


def test_a_ready_horn_is_issued(school, ready):
    step = step_for(ready, Role.TEACHER, school)

    assert (step.label, step.address) == ("Issue it", f"/s/{school.slug}/loans/issue/?horn={ready.pk}")


def test_a_technician_is_told_that_it_is_ready_without_a_way_to_issue_it(school, ready):
    step = step_for(ready, Role.TECHNICIAN, school)

    assert (step.why, step.label, step.address) == ("It is ready to be lent.", "", "")


def test_an_unidentified_horn_is_identified_first(school):
    horn = make.horn(school, build="")

    step = step_for(horn, Role.TECHNICIAN, school)

    assert (step.label, step.address) == ("Identify it", f"/s/{school.slug}/identify/?horn={horn.pk}")


def test_a_familys_report_comes_before_the_loan(school, ready):
    pupil = make.pupil(school, make.guardian(school))
    make.loan(ready, pupil, make.staff(Role.HEAD, school))
    report = make.report(ready, pupil.guardians.get().user, pupil=pupil)

    step = step_for(ready, Role.TEACHER, school)

    assert (step.label, step.address) == ("Answer the family", f"/s/{school.slug}/fault-reports/{report.pk}/")


def test_a_horn_that_is_out_is_taken_back(school, ready):
    make.loan(ready, make.pupil(school), make.staff(Role.HEAD, school))

    step = step_for(ready, Role.TEACHER, school)

    assert (step.label, step.address) == ("Take it back", f"/s/{school.slug}/horns/{ready.pk}/return/")


def test_a_restrung_horn_owes_its_test_note(school, ready):
    Horn.objects.filter(pk=ready.pk).update(test_note_owed=True)

    assert step_for(ready, Role.TEACHER, school).label == "Sound the test note"


def test_an_open_repair_job_is_where_to_go(school, ready):
    job = make.job(ready, make.staff(Role.HEAD, school))

    step = step_for(ready, Role.TECHNICIAN, school)

    assert (step.label, step.address) == ("Go to the repair job", f"/s/{school.slug}/jobs/{job.pk}/")


def test_a_horn_that_may_not_be_lent_as_it_is_gets_a_job(school, ready):
    make.check(ready, make.staff(Role.HEAD, school), grade=3)

    assert step_for(ready, Role.TEACHER, school).label == "Go to its repair job"


def test_a_mended_horn_is_tried_before_it_is_lent(school, ready):
    technician = make.staff(Role.TECHNICIAN, school)
    make.check(ready, technician, grade=3)
    make.job(ready, technician, state="done", at=make.NOW + timedelta(hours=1))

    assert step_for(ready, Role.TEACHER, school).label == "Check it after the repair"


def test_a_horn_mended_of_a_small_fault_is_looked_at_first_too_though_nothing_keeps_it_back(school, ready):
    technician = make.staff(Role.TECHNICIAN, school)
    make.job(ready, technician, state="done", at=make.NOW + timedelta(hours=1))
    ready.refresh_from_db()

    assert ready.kept_back == []
    assert step_for(ready, Role.TEACHER, school).label == "Check it after the repair"


def test_an_uncleaned_mouthpiece_is_cleaned_before_the_next_player(school, ready):
    make.loan(ready, make.pupil(school), make.staff(Role.HEAD, school), returned_on=TODAY)

    step = step_for(ready, Role.TECHNICIAN, school)

    assert (step.label, step.address) == ("Record the cleaning", f"/s/{school.slug}/horns/{ready.pk}/mouthpiece/")


def test_a_horn_nobody_looked_over_for_a_year_is_checked(school):
    horn = make.horn(school)
    make.check(horn, make.staff(Role.HEAD, school), at=make.NOW - timedelta(days=366))

    assert step_for(horn, Role.TEACHER, school).label == "Check its condition"


def test_a_missing_horn_is_for_a_head_to_declare_found(school, ready):
    ready.not_found_on = TODAY
    ready.save(update_fields=["not_found_on"])

    assert step_for(ready, Role.HEAD, school).label == "Record that it was found"
    step = step_for(ready, Role.TEACHER, school)
    assert (step.label, step.why.partition(". ")[2]) == ("", "Ask somebody who may do this: Record that it was found.")


def test_nothing_that_takes_the_horn_in_hand_is_asked_of_a_missing_one(school):
    horn = make.horn(school, build="", stands_in="", not_found_on=TODAY)
    make.loan(horn, make.pupil(school), make.staff(Role.HEAD, school), returned_on=TODAY, check_at_issue=None)

    assert [one[0] for one in all_steps(horn, Role.HEAD, school)] == ["not-found"]


def test_a_withdrawn_horn_has_no_next_step(school, ready):
    ready.withdrawn_on = timezone.localdate(make.NOW)
    ready.save(update_fields=["withdrawn_on"])

    assert step_for(ready, Role.HEAD, school).address == ""


def test_what_is_owed_about_a_withdrawn_horn_stands_on_its_page_as_on_today(school, ready):
    head = make.staff(Role.HEAD, school)
    loan = make.loan(ready, make.pupil(school), head, returned_on=TODAY)
    make.charge(loan, head)
    ready.withdrawn_on = TODAY
    ready.save(update_fields=["withdrawn_on"])

    assert [one[0] for one in all_steps(ready, Role.HEAD, school)] == ["withdrawn", "charge"]


def test_a_horn_put_before_a_family_says_for_whom_and_leads_to_handing_it_out(school, ready):
    pupil = make.pupil(school, make.guardian(school, name="Maria"), name="Ada")
    teacher = make.staff(Role.TEACHER, school)
    asked = make.signature(ready, pupil, teacher, accessories=["case", "mute"])

    step = step_for(ready, Role.TEACHER, school)
    assert (step.why, step.label) == ("Ada: Maria has not signed yet", "See what is asked")
    assert f"horn={ready.pk}&pupil={pupil.pk}" in step.address
    assert step_for(ready, Role.TECHNICIAN, school).address == ""

    asked.signed_at, asked.typed_name = make.NOW, "Maria"
    asked.save()
    step = step_for(ready, Role.TEACHER, school)
    assert (step.why, step.label) == ("Hand it out to Ada: Maria has signed", "Hand it out")


def all_steps(horn, role, school):
    horn.refresh_from_db()
    seat = Seat(user=make.staff(role, school), school=school, role=role)
    return [(one.code, one.why, one.label) for one in steps(horn_now(horn, today=TODAY), seat)]


def test_whatever_else_is_owed_stands_below_the_next_step(school, ready):
    pupil = make.pupil(school, make.guardian(school), name="Ada")
    head = make.staff(Role.HEAD, school)
    loan = make.loan(ready, pupil, head, returned_on=TODAY)
    loan.accessories.create(name="mute", came_back=False)
    make.charge(loan, head, what="a lost mute", due_on=TODAY + timedelta(days=9))

    first, *others = all_steps(ready, Role.HEAD, school)

    assert (first[0], first[2]) == ("mouthpiece", "Record the cleaning")
    assert others == [
        ("accessory", f"Mute, from Ada: missing since {day(TODAY)}", "Say what became of it"),
        ("charge", f"Ada: a lost mute, 30.00 EUR: to be paid by {day(TODAY + timedelta(days=9))}", "Settle it"),
    ]


def test_what_stands_below_is_told_to_who_may_not_do_it_without_a_way(school, ready):
    loan = make.loan(ready, make.pupil(school), make.staff(Role.HEAD, school), returned_on=TODAY)
    make.charge(loan, make.staff(Role.HEAD, school))

    *_, charge = all_steps(ready, Role.TECHNICIAN, school)

    assert (charge[0], charge[2]) == ("charge", "")


def test_a_ready_horn_is_issued_though_a_charge_is_open_and_both_are_told(school, ready):
    head = make.staff(Role.HEAD, school)
    loan = make.loan(
        ready, make.pupil(school), head, returned_on=TODAY, mouthpiece_cleaned_on=TODAY, mouthpiece_cleaned_by=head
    )
    make.charge(loan, head)

    assert [one[0] for one in all_steps(ready, Role.HEAD, school)] == ["charge", "ready"]


def test_of_what_presses_the_late_comes_first_then_what_families_report_before_what_they_ask(school, ready):
    guardian = make.guardian(school)
    pupil = make.pupil(school, guardian)
    loan = make.loan(ready, pupil, make.staff(Role.HEAD, school), issued_on=TODAY - timedelta(days=9))
    ask = make.ask(loan, guardian.user, kind="renew")
    report = make.report(ready, guardian.user, pupil=pupil, still_plays=True)

    def codes():
        return [one[0] for one in all_steps(ready, Role.HEAD, school)]

    assert codes() == ["report", "ask", "out"]
    type(ask).objects.update(kind="lost")
    assert codes() == ["ask", "report", "out"]
    type(report).objects.update(still_plays=False)
    assert codes() == ["report", "ask", "out"]
    type(loan).objects.update(due_on=TODAY - timedelta(days=1))
    assert codes() == ["overdue", "report", "ask", "out"]


def test_a_repair_that_keeps_it_back_is_not_told_again_as_a_job(school, ready):
    technician = make.staff(Role.TECHNICIAN, school)
    make.check(ready, technician, grade=3)
    make.job(ready, technician)

    assert [one[0] for one in all_steps(ready, Role.TECHNICIAN, school)] == ["grade"]


@pytest.mark.usefixtures("at_ten")
def test_a_horn_that_is_simply_out_has_no_button_that_presses_and_what_else_is_owed_has_no_second_place(
    school, ready, as_
):
    guardian = make.guardian(school)
    pupil = make.pupil(school, guardian, name="Ada")
    head = make.staff(Role.HEAD, school)
    loan = make.loan(ready, pupil, head, due_on=TODAY + timedelta(days=200))
    address = f"/s/{school.slug}/horns/{ready.pk}/"

    page = as_(head).get(address)
    assert (page.context["step"].code, page.context["others"]) == ("out", [])
    assert 'class="button "' in page.content.decode()

    # Reports stand on the page with their words, and who has it in a part of its own.
    make.ask(loan, guardian.user, kind="lost")
    make.report(ready, guardian.user, pupil=pupil)
    page = as_(head).get(address)
    assert (page.context["step"].code, page.context["others"]) == ("ask", [])


def test_what_is_owed_as_a_question_is_followed_by_its_reason_without_a_colon(school, ready):
    other = make.staff(Role.HEAD, school, name="Bo")
    propose(horn=ready, method="sold", on=TODAY, reason="Two of a kind", by=other, at=make.NOW)

    told = {code: why for code, why, _ in all_steps(ready, Role.HEAD, school)}

    assert told["to-decide"] == "Give it up? Bo proposes it: Two of a kind"


def test_every_sort_of_thing_owed_and_every_reason_has_its_place(as_, school):
    """None may be forgotten: what the reader tells of a horn stands on its page."""

    world = build(THEIRS)
    head = world.people[Role.HEAD]
    seat = Seat(user=head, school=world.school, role=Role.HEAD)
    for horn in Horn.objects.at(world.school).filter(withdrawn_on=None):
        now = horn_now(horn, today=TODAY)
        told = {one.code for one in steps(now, seat)}
        same = {"job": {"workshop", "away", "grade", "job"}, "check": {"unchecked", "check"}}
        for owed in now.owed:
            assert told & same.get(owed.code, {owed.code}), (horn, owed)
        # What takes a missing horn in hand waits until it is found.
        later = IN_MINUTES if horn.not_found_on else set()
        assert {reason.code for reason in now.kept_back} - {"promised"} - later <= told
