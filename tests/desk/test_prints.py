import pytest

from fleet.access import Role
from tests import make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("rows", [1, 3])
def test_the_prints_page_asks_as_many_questions_for_three_loans_as_for_one(as_, rows, django_assert_num_queries):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    for _ in range(rows):
        make.loan(make.horn(school), make.pupil(school, make.guardian(school)), teacher)
    client = as_(teacher)

    # Session, account, seat, places, classes, the labels’ sheet, loans, and how many.
    with django_assert_num_queries(8):
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
