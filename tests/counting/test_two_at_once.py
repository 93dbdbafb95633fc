"""Several people at one count at the same moment, with real threads and real connections."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from fleet.access import Role
from fleet.counting import actions
from fleet.counting.models import Count, Line, Sighting
from fleet.refused import Refused
from tests import make
from tests.loans.test_two_at_once import all_at_once

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 6
LATER = make.NOW + timedelta(minutes=5)


def set_up(horns: int = 1):
    school = make.school()
    store = make.place(school)
    for _ in range(horns):
        make.horn(school, place=store)
    head = make.staff(Role.HEAD, school)
    count = actions.begin(school=school, places=[], by=head, at=make.NOW)
    return school, store, head, count


def test_a_tap_sent_by_two_tabs_at_once_counts_once():
    school, store, head, count = set_up()
    horn = school.horns.get()
    tap = partial(actions.see, count=count, horn=horn, place=store, key="the-same-tap", by=head, at=LATER)

    outcomes = all_at_once([tap] * PEOPLE)

    assert set(outcomes) == {Sighting.objects.get()}


def test_people_who_see_a_horn_nobody_expected_at_once_make_one_line_of_it():
    school, store, head, count = set_up()
    horn = make.horn(school, place=store)
    taps = [
        partial(actions.see, count=count, horn=horn, place=store, key=f"tap-number-{n}", by=head, at=LATER)
        for n in range(PEOPLE)
    ]

    outcomes = all_at_once(taps)

    assert all(isinstance(outcome, Sighting) for outcome in outcomes), outcomes
    assert Line.objects.get(horn=horn).sightings.count() == PEOPLE


def test_a_tap_that_meets_the_end_is_either_counted_or_refused():
    school, store, head, count = set_up(horns=PEOPLE)
    taps = [
        partial(actions.see, count=count, horn=horn, place=store, key=f"tap-number-{n}", by=head, at=LATER)
        for n, horn in enumerate(school.horns.all())
    ]

    *tapped, ended = all_at_once([*taps, partial(actions.end, count=count, by=head, at=LATER)])

    assert isinstance(ended, Count), ended
    taken = {one.line_id for one in tapped if isinstance(one, Sighting)}
    assert len(taken) + sum(isinstance(one, Refused) for one in tapped) == PEOPLE, tapped
    assert {line.pk for line in Line.objects.filter(outcome="seen")} == taken


def test_two_who_begin_the_same_count_at_once_begin_one():
    school = make.school()
    make.horn(school)
    people = [make.staff(Role.TEACHER, school) for _ in range(PEOPLE)]

    outcomes = all_at_once([partial(actions.begin, school=school, places=[], by=one, at=make.NOW) for one in people])

    assert Count.objects.count() == 1
    assert sum(isinstance(outcome, Refused) for outcome in outcomes) == PEOPLE - 1
