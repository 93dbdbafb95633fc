"""Today says when the school year ends, to those who begin the next."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.desk.queries.piles import Day
from fleet.desk.queries.today import piles
from fleet.ground.access import Role
from fleet.people.queries.seats import Seat
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
TITLE = "The school year"


def told(role, ends):
    school = make.school(year_ends=ends)
    day = Day(seat=Seat(user=make.staff(role, school), school=school, role=role), now=make.NOW)
    return school, {pile.title: pile.tasks for pile in piles(day)}.get(TITLE)


@pytest.mark.parametrize(
    ("days", "why", "late"),
    [
        (15, None, None),
        (14, "this one ends on 28 September 2026", False),
        (0, "this one ends on 14 September 2026", False),
        (-1, "this one ended on 13 September 2026", True),
        (-400, "this one ended on 10 August 2025", True),
    ],
)
@pytest.mark.parametrize("role", [Role.HEAD, Role.SERVICE])
def test_a_head_is_told_from_two_weeks_before_until_the_next_year_has_begun(role, days, why, late):
    school, tasks = told(role, make.TODAY + timedelta(days=days))

    if why is None:
        assert tasks is None
        return
    (task,) = tasks
    assert (task.what, task.late) == ("Begin the next school year", late)
    assert task.why.startswith(why)
    assert task.address == reverse("loans:new-year", args=[school.slug])


def test_nobody_else_and_no_school_without_an_end_is_told():
    assert told(Role.TEACHER, make.TODAY)[1] is None
    assert told(Role.TECHNICIAN, make.TODAY)[1] is None
    assert told(Role.HEAD, None)[1] is None
