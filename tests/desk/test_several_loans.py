"""Acts on many loans and pupils at once."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.lending.models import Loan
from fleet.people.models import Pupil
from fleet.register.models import Horn
from tests import make
from tests.pages import folded

DAY = timedelta(days=1)
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_ten")]


def test_the_mouthpieces_of_horns_that_came_back_are_noted_as_clean(world):
    back = world.out(returned_on=make.TODAY - DAY)
    page = world.look("mouthpieces", horn=[back.horn, world.horns[0]])
    assert [line.why_not for line in page.context["left_out"]] == ["It has not come back from a loan."]

    world.do("mouthpieces", horn=[back.horn], cleaned_on=make.TODAY.isoformat())

    back.refresh_from_db()
    assert (back.mouthpiece_cleaned_on, back.mouthpiece_cleaned_by) == (make.TODAY, world.teacher)
    again = world.look("mouthpieces", horn=[back.horn])
    assert [line.why_not for line in again.context["left_out"]] == ["Its mouthpiece does not wait to be cleaned."]


# Loans


def test_loans_are_renewed_and_one_that_is_refused_stays_with_its_reason(world):
    fine = world.out(due_on=make.TODAY + 5 * DAY)
    gone = world.out(due_on=make.TODAY + 6 * DAY, pupil={"name": "Bo", "left_on": make.TODAY})
    until = make.TODAY + 301 * DAY

    answer = world.do("renew", loan=[fine, gone], due_on=until.isoformat(), reason="")

    assert answer.status_code == 409
    assert "1 loan renewed until 12 July 2027." in answer.content.decode()
    assert [line.refused[:27] for line in answer.context["lines"]] == ["Bo left the school on 14 Se"]
    assert set(Loan.objects.filter(due_on=until)) == {fine}
    assert fine.periods.get().by == world.teacher


def test_loans_are_recalled_with_a_reason(world):
    loans = [world.out(due_on=make.TODAY + 50 * DAY) for _ in range(2)]
    soon = make.TODAY + 7 * DAY
    assert world.do("recall", loan=loans, due_on=soon.isoformat(), reason="").status_code == 422

    done = world.do("recall", loan=loans, due_on=soon.isoformat(), reason="The band needs them.")

    assert "2 loans recalled: due back on 21 September 2026." in done.content.decode()
    assert "This cannot be undone. The next letters say so." in folded(done)
    assert Loan.objects.filter(due_on=soon).count() == 2


@pytest.mark.parametrize(("on", "status"), [(-1, 422), (0, 409), (366 * 10, 200), (366 * 10 + 1, 422)])
def test_a_new_day_of_many_lies_between_today_and_ten_years(world, on, status):
    loan = world.out(due_on=make.TODAY + 5 * DAY)
    until = (make.TODAY + on * DAY).isoformat()
    # The last one is a Sunday, and warned of before.
    assert world.do("renew", loan=[loan], due_on=until, warned_of=until).status_code == status


# Pupils


def test_pupils_move_to_another_class_with_their_horns_and_back_again(world):
    loan = world.out(pupil={"group": "5b", "year": "5"})
    other = make.pupil(world.school, group="", year="5")

    world.do("class", pupil=[loan.pupil, other], group="6b", year="6")

    assert Pupil.objects.filter(group="6b", year="6").count() == 2
    assert Horn.objects.get(pk=loan.horn_id).holder_group == "6b"
    world.undo("class")
    assert sorted(Pupil.objects.values_list("group", "year")) == [("", "5"), ("5b", "5")]
    assert Horn.objects.get(pk=loan.horn_id).holder_group == "5b"


def test_what_the_page_saw_of_a_pupil_stands_on_one_line_as_browsers_send_lines_in_their_own_way(world):
    pupil = make.pupil(world.school, group="5b", year="5")
    assert f'name="seen-{pupil.pk}" value="5/5b"' in world.look("class", pupil=[pupil]).content.decode()


def test_a_year_left_empty_stays(world):
    pupil = make.pupil(world.school, group="5b", year="5")
    world.do("class", pupil=[pupil], group="Band", year="")
    pupil.refresh_from_db()
    assert (pupil.group, pupil.year) == ("Band", "5")


def test_leavers_are_marked_and_the_page_says_what_they_still_have(world):
    loan = world.out()
    assert f"still has {loan.horn}" in world.look("leavers", pupil=[loan.pupil]).content.decode()

    world.do("leavers", pupil=[loan.pupil], left_on=make.TODAY.isoformat())

    assert Pupil.objects.get(pk=loan.pupil_id).left_on == make.TODAY
    world.undo("leavers")
    assert Pupil.objects.get(pk=loan.pupil_id).left_on is None


@pytest.mark.parametrize(("on", "status"), [(0, 200), (1, 422)])
def test_nobody_has_left_on_a_day_to_come(world, on, status):
    pupil = make.pupil(world.school)
    assert world.do("leavers", pupil=[pupil], left_on=(make.TODAY + on * DAY).isoformat()).status_code == status


# Prints, whole lists, queries
