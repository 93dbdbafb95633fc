import re
from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.register.models import Disposal
from tests import make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("rows", [1, 3])
def test_the_prints_page_asks_as_many_questions_for_three_loans_as_for_one(as_, rows, django_assert_num_queries):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    for _ in range(rows):
        make.loan(make.horn(school), make.pupil(school, make.guardian(school)), teacher)
    client = as_(teacher)

    # Session, account, seat, places, classes, the labels’ sheet, keys of loans, how many and these, horns given up.
    with django_assert_num_queries(10):
        assert client.get(f"/s/{school.slug}/prints/").content.decode().count("Loan sheet of") == rows


def test_the_prints_page_says_where_the_sheets_are_that_it_does_not_list(as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    pupil = make.pupil(school, make.guardian(school))
    for _ in range(23):
        make.loan(make.horn(school), pupil, teacher)

    page = as_(teacher).get(f"/s/{school.slug}/prints/").content.decode()
    assert page.count("Loan sheet of") == 20
    assert "The sheets of 3 more are on their" in page


def test_only_this_schools_open_loans_are_offered(as_):
    school, other = make.school(), make.school()
    teacher = make.staff(Role.TEACHER, school)
    make.loan(make.horn(other, number="HN-7"), make.pupil(other, make.guardian(other)), make.staff(Role.HEAD, other))
    make.loan(
        make.horn(school, number="HN-8"), make.pupil(school, make.guardian(school)), teacher, returned_on=make.TODAY
    )

    assert "Loan sheet of" not in as_(teacher).get(f"/s/{school.slug}/prints/").content.decode()


@pytest.mark.parametrize(
    ("role", "offered", "hidden"),
    [
        (Role.HEAD, ["insurance", "yearly-report", "overdue-letters", "class-list", "repair-list"], []),
        (Role.TEACHER, ["overdue-letters", "class-list", "repair-list"], ["insurance", "yearly-report"]),
        (Role.TECHNICIAN, ["repair-list", "labels"], ["insurance", "yearly-report", "overdue", "class-list", "loan"]),
    ],
)
def test_each_role_is_offered_the_prints_it_may_make_and_no_others(as_, role, offered, hidden):
    school = make.school()
    make.pupil(school, group="7B")

    page = as_(make.staff(role, school)).get(f"/s/{school.slug}/prints/").content.decode()

    for name in offered:
        assert f"prints/{name}.pdf" in page
    for name in hidden:
        assert f"prints/{name}" not in page


def test_the_record_of_a_horn_given_up_is_offered_once_it_is_approved(as_):
    school = make.school()
    head, teacher = make.staff(Role.HEAD, school), make.staff(Role.TEACHER, school)
    said = {"method": "sold", "on": make.TODAY, "reason": "Torn.", "proposed_by": teacher, "proposed_at": make.NOW}
    record = Disposal.objects.create(horn=make.horn(school, number="HN-9"), **said)

    assert "HN-9" not in as_(teacher).get(f"/s/{school.slug}/prints/").content.decode()

    Disposal.objects.filter(pk=record.pk).update(approved=True, decided_by=head, decided_at=make.NOW)
    assert "Disposal record of HN-9" in as_(teacher).get(f"/s/{school.slug}/prints/").content.decode()


def test_of_the_horns_given_up_the_newest_five_are_offered(as_):
    school = make.school()
    head, teacher = make.staff(Role.HEAD, school), make.staff(Role.TEACHER, school)
    for days in (3, 0, 4, 1, 5, 2):
        said = {"method": "sold", "on": make.TODAY - timedelta(days=days), "reason": "Torn."}
        proposed = {"proposed_by": teacher, "proposed_at": make.NOW}
        decided = {"approved": True, "decided_by": head, "decided_at": make.NOW}
        Disposal.objects.create(horn=make.horn(school, number=f"HN-{days}"), **said, **proposed, **decided)

    page = as_(teacher).get(f"/s/{school.slug}/prints/").content.decode()

    assert re.findall(r"Disposal record of (HN-\d)", page) == ["HN-0", "HN-1", "HN-2", "HN-3", "HN-4"]
