"""The next sensible action: one situation, one role, one button."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.desk.queries.horns import page_of
from fleet.desk.queries.next_step import next_step
from fleet.ground.access import Role
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from tests import make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


@pytest.fixture
def school():
    return make.school(check_days=365)


def step_for(horn, role, school):
    horn.refresh_from_db()
    seat = Seat(user=make.staff(role, school), school=school, role=role)
    return next_step(page_of(horn, TODAY).now, seat)


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

    assert (step.label, step.address) == ("Take it back first", f"/s/{school.slug}/horns/{ready.pk}/return/")


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
    assert step_for(ready, Role.TEACHER, school).label == ""


def test_a_withdrawn_horn_has_no_next_step(school, ready):
    ready.withdrawn_on = timezone.localdate(make.NOW)
    ready.save(update_fields=["withdrawn_on"])

    assert step_for(ready, Role.HEAD, school).address == ""


def test_a_horn_put_before_a_family_says_for_whom_and_leads_to_handing_it_out(school, ready):
    pupil = make.pupil(school, make.guardian(school, name="Maria"), name="Ada")
    teacher = make.staff(Role.TEACHER, school)
    asked = make.signature(ready, pupil, teacher, accessories=["case", "mute"])

    step = step_for(ready, Role.TEACHER, school)
    assert (step.why, step.label) == ("Maria has not signed yet", "See what is asked")
    assert f"horn={ready.pk}&pupil={pupil.pk}" in step.address
    assert step_for(ready, Role.TECHNICIAN, school).address == ""

    asked.signed_at, asked.typed_name = make.NOW, "Maria"
    asked.save()
    step = step_for(ready, Role.TEACHER, school)
    assert (step.why, step.label) == ("Maria has signed", "Hand it out")
