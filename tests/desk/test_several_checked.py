"""Many horns looked over at once, and as before."""

from __future__ import annotations

import pytest

from fleet.workshop.models import ConditionCheck, Finding
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_ten")]


@pytest.mark.parametrize(
    ("where", "why"),
    [
        ({"not_found_on": make.TODAY}, "It is not found: nobody here looks it over."),
        ({"repairer": "Elm Brass"}, "It is at the repairer’s, Elm Brass: nobody here looks it over."),
        ({}, None),
    ],
)
def test_a_horn_that_nobody_here_can_see_is_not_checked_as_fine(world, where, why):
    horn = make.horn(world.school, **where)
    page = world.look("checked", horn=[horn])
    assert [line.why_not for line in page.context["left_out"]] == ([why] if why else [])


def test_horns_are_checked_as_before_in_one_row_and_keep_finish_and_findings(world):
    first, second, _ = world.horns
    make.check(first, world.teacher, finish_grade=3)
    make.finding(make.check(second, world.teacher, grade=2), "string-frayed", "w")
    page = folded(world.look("checked", horn=[first, second]))
    assert "string frayed" in page
    assert "finish: heavy wear" in page
    assert "Finish of those never checked" not in page
    assert "This cannot be undone." in page

    assert world.do("checked", horn=[first, second]).status_code == 422
    done = world.do("checked", horn=[first, second], looked="on")

    assert done.content.decode().count("2 horns checked.") == 1
    assert "Undo" not in done.content.decode()
    newest = ConditionCheck.objects.order_by("-pk")[:2]
    assert {(one.horn.number, one.grade, one.finish_grade) for one in newest} == {("HN-1", 1, 3), ("HN-2", 2, 2)}
    assert Finding.objects.filter(check_made__in=newest, mended_at=None).count() == 1


def test_a_horn_never_checked_is_fine_once_its_finish_is_said(world):
    make.check(world.horns[0], world.teacher)

    answer = world.do("checked", horn=world.horns[:2], looked="on")

    assert answer.status_code == 409
    assert [line.refused for line in answer.context["lines"]] == ["HN-2 has never been checked. Say how its finish is."]
    world.do("checked", horn=[world.horns[1]], looked="on", finish_grade="4")
    assert world.horns[1].checks.get().finish_grade == 4
