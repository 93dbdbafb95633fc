"""Which horns the whole picture tells that nobody has had for longest."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.reports.queries.figures import idle
from tests import make

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def test_of_horns_idle_since_one_day_the_first_entered_are_told_and_none_of_the_day_after():
    school, day = make.school(), timedelta(days=1)
    pupil, head = make.pupil(school), make.staff(Role.HEAD, school)
    for number in range(1, 12):
        make.horn(school, number=f"HN-{number}", created=make.NOW - timedelta(minutes=number))
    make.horn(school, number="HN-0", created=make.NOW + day)
    for number, returned in (("GN-1", make.TODAY), ("GN-0", make.TODAY + day)):
        horn = make.horn(school, number=number, created=make.NOW - 9 * day)
        make.loan(horn, pupil, head, issued_on=make.TODAY - 8 * day, returned_on=returned)

    everything = [("GN-1", True, 0), *((f"HN-{number}", False, 0) for number in range(11, 0, -1))]
    for most in (10, 20):
        told = [(one.horn.number, one.lent_before, one.days) for one in idle(school, make.TODAY, most)]
        assert told == everything[:most]


def test_horns_idle_since_earlier_days_come_before_those_of_the_last_day_told():
    school, day = make.school(), timedelta(days=1)
    for number in (7, 3, 5):
        make.horn(school, number=f"HN-{number}", created=make.NOW - timedelta(hours=number % 3))
    make.horn(school, number="HN-9", created=make.NOW - 2 * day)
    make.horn(school, number="HN-8", created=make.NOW - day)
    make.horn(school, number="HN-1", created=make.NOW + day)

    told = [("HN-9", 2), ("HN-8", 1), ("HN-5", 0), ("HN-7", 0), ("HN-3", 0)]
    for most in range(1, 7):
        assert [(one.horn.number, one.days) for one in idle(school, make.TODAY, most)] == told[:most]
