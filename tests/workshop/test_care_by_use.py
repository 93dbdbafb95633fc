"""Care that follows use: months in children's hands bring it sooner, and what nobody plays is exercised."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.utils.dateformat import format as dated

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.models.care import Kind
from fleet.workshop.queries.care import LAST, care_due, care_of, wanting
from tests import make
from tests.pages import folded

TODAY = make.TODAY


def dues(school, kind):
    """Of a kind, which horns want it: on the list of care, and on each one's own page."""
    listed = {one.horn for one in care_due(school, TODAY)[kind]}
    own = {
        horn for horn in Horn.objects.all() for one in care_of(horn, TODAY)[0] if (one.kind, one.is_due) == (kind, True)
    }
    assert listed == own
    return listed


@pytest.mark.both_engines
@pytest.mark.parametrize(("days", "is_due"), [(29, False), (30, True)])
def test_months_in_childrens_hands_bring_care_before_its_days_are_over(db, days, is_due):
    school = make.school(clean_days=300, clean_months=2, service_months=0)
    by, horn, other = make.staff(Role.TEACHER, school), make.horn(school), make.horn(school)
    for one in (horn, other):
        for kind in ("clean", "service"):
            make.care(one, by, kind, TODAY - timedelta(days=100))
    # One ended before the cleaning. Of the next a week lies before it, 30 days after it.
    for begun, ended in ((200, 150), (107, 70), (60, 60 - days)):
        first, last = TODAY - timedelta(days=begun), TODAY - timedelta(days=ended)
        make.loan(horn, make.pupil(school), by, issued_on=first, returned_on=last)

    assert dues(school, Kind.CLEAN) == ({horn} if is_due else set())
    assert not dues(school, Kind.SERVICE)
    if is_due:
        [due] = care_due(school, TODAY)[Kind.CLEAN]
        assert "and played by children for months since" in due.why


@pytest.mark.parametrize(("days", "by_use"), [(30, False), (31, True)])
def test_what_is_due_by_its_days_is_not_said_to_be_so_by_use(db, days, by_use):
    school = make.school(clean_days=days, clean_months=1)
    by, horn, then = make.staff(Role.TEACHER, school), make.horn(school), TODAY - timedelta(days=30)
    make.care(horn, by, "clean", then)
    make.loan(horn, make.pupil(school), by, issued_on=then, returned_on=TODAY)

    assert [one.by_use for one in care_due(school, TODAY)[Kind.CLEAN]] == [by_use]
    assert [one.by_use for one in care_of(horn, TODAY)[0] if one.kind == Kind.CLEAN] == [by_use]


@pytest.mark.both_engines
@pytest.mark.parametrize(("days", "is_due"), [(29, False), (30, True)])
def test_a_horn_that_nobody_played_for_so_long_is_exercised(db, days, is_due):
    school = make.school(exercise_days=30)
    by, exercised, lent, new = make.staff(Role.TEACHER, school), *(make.horn(school) for _ in range(3))
    make.care(exercised, by, "exercise", TODAY - timedelta(days=days))
    loan = make.loan(lent, make.pupil(school), by, issued_on=TODAY - timedelta(days=90), due_on=TODAY)
    assert lent not in dues(school, Kind.EXERCISE)
    loan.returned_on = TODAY - timedelta(days=days)
    loan.save()
    make.keep([lent])

    assert dues(school, Kind.EXERCISE) == ({exercised, lent, new} if is_due else {new})


def test_what_must_not_be_played_or_is_on_the_bench_is_not_exercised(db):
    school = make.school()
    by, *horns = make.staff(Role.TEACHER, school), *(make.horn(school) for _ in range(3))
    playable, bad, mended = horns
    make.check(bad, by, grade=4)
    make.check(playable, by, grade=3)
    make.job(mended, by, state="bench")

    assert dues(school, Kind.EXERCISE) == {playable}


def test_a_horn_noted_as_back_waits_for_its_care_in_the_list_and_on_its_page_until_it_is_taken_back(db):
    school = make.school()
    by, horn = make.staff(Role.TEACHER, school), make.horn(school)
    make.return_note(make.loan(horn, make.pupil(school), by), by)

    assert dues(school, Kind.CLEAN) == set()


@pytest.mark.parametrize(("played", "said"), [(60, True), (59, False)])
@pytest.mark.usefixtures("at_ten")
def test_a_horns_own_page_says_that_it_is_due_by_use_and_names_no_day_to_come(db, as_, played, said):
    school = make.school(clean_days=300, clean_months=2, service_months=0)
    by, horn = make.staff(Role.TEACHER, school), make.horn(school)
    make.care(horn, by, "clean", TODAY - timedelta(days=100))
    first = TODAY - timedelta(days=played)
    make.loan(horn, make.pupil(school), by, issued_on=first, returned_on=TODAY)

    page = folded(as_(by).get(f"/s/{school.slug}/horns/{horn.pk}/care/"))

    assert ("played by children for months since" in page, "Cleaning: due" in page) == (said, said)
    assert (dated(TODAY + timedelta(days=200), "j M Y") in page) is not said


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
@pytest.mark.parametrize("kind", Kind)
def test_what_is_due_is_read_along_the_index_of_its_day(db, kind):
    plan = wanting(make.school(), kind, TODAY)[:7].explain()

    assert f"horn_{LAST[kind]} (school_id=? AND <expr><?)" in plan, plan
    assert "ORDER BY" not in plan, plan
