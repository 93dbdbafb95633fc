"""Which horns play together, told by sorts."""

from __future__ import annotations

import pytest

from fleet.desk.queries import together
from fleet.desk.queries.together import play_together
from fleet.ground import paging
from fleet.ground.access import Role
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


@pytest.mark.parametrize("at_once", [1, 2, 400])
def test_each_sort_is_counted_however_many_are_asked_of_at_once_and_those_of_the_first_number_come_first(
    monkeypatch, at_once
):
    monkeypatch.setattr("fleet.desk.queries.together.AT_ONCE", at_once)
    school = make.school()
    for number, build, stand in ((3, "double-full", "Bb"), (1, "double-full", "F"), (2, "single-f", "F"), (4, "", "")):
        make.horn(school, number=f"HN-{number}", build=build, stands_in=stand)
    make.horn(school, number="HN-0", build="single-bb", stands_in="Bb")
    make.horn(school, build="single-bb", stands_in="Bb", withdrawn_on=make.TODAY)
    make.horn(make.school(), build="single-f", stands_in="F")

    found = play_together(school.horns.kept())

    assert [[one.horn.number for one in alike.horns] for alike in found.lists] == [["HN-0", "HN-3"], ["HN-1", "HN-2"]]
    assert [alike.many for alike in found.lists] == [2, 2]
    assert [horn.number for horn in found.unknown] == ["HN-4"]


@pytest.mark.parametrize(
    ("horns", "said", "more"),
    [(2, "2", "1"), (3, "more than 2", "2"), (4, "more than 2", "more than 2"), (9, "more than 2", "more than 2")],
)
def test_of_too_many_to_count_it_is_said_that_there_are_more(as_, monkeypatch, horns, said, more):
    monkeypatch.setattr(together, "SHOWN", 1)
    monkeypatch.setattr(paging, "COUNTED_TO", 2)
    school = make.school()
    for _ in range(horns):
        make.horn(school, build="single-f", stands_in="F")
        make.horn(school, build="", stands_in="")

    text = folded(as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/together/"))

    assert f"{said} horns fingered like" in text
    # Of the list, and of what is not known.
    assert text.count(f"and {more} more.") == 2
