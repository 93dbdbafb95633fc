"""A sound horn checked by one tap on its page: all fine, with the finish remembered."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from fleet.ground.refusal import Refused
from fleet.workshop.actions.checking import check_all_fine
from fleet.workshop.models import ConditionCheck, Finding
from fleet.workshop.queries.condition import latest_checks_of
from tests import make
from tests.pages import folded


def newest(world) -> ConditionCheck:
    return ConditionCheck.objects.order_by("-pk")[0]


def test_a_sound_horn_offers_one_tap_and_keeps_its_finish(world):
    first = make.check(world.horn, world.technician, finish_grade=3)
    page = folded(world.browser.get(world.address))
    assert '<button class="big" name="as_before" value="1">All fine as before: save</button>' in page
    assert 'value="fine' not in page

    world.browser.post(world.address, {"as_before": "1", "seen": first.pk, "occasion": "yearly"})

    assert (newest(world).grade, newest(world).finish_grade) == (1, 3)


def test_a_horn_with_something_wrong_offers_as_before_and_all_fine_which_says_that_it_is_gone(world):
    first = make.check(world.horn, world.technician, grade=2, finish_grade=3)
    make.finding(first, severity="w")
    page = folded(world.browser.get(world.address))
    assert "As before: save" in page
    assert "All fine, nothing is wrong any more: save" in page

    answer = world.browser.post(world.address, {"as_before": "fine", "seen": first.pk, "occasion": "yearly"})

    assert answer.status_code == 302
    assert (newest(world).grade, newest(world).finish_grade, newest(world).occasion) == (1, 3, "yearly")
    assert not Finding.objects.filter(mended_at=None).exists()


@pytest.mark.parametrize("finish", [1, 4])
def test_a_horn_that_was_never_checked_is_fine_by_a_tap_that_says_its_finish(world, finish):
    page = folded(world.browser.get(world.address))
    assert "Nobody has checked it yet." in page
    assert f'value="fine-{finish}"' in page

    world.browser.post(world.address, {"as_before": f"fine-{finish}", "seen": "0", "occasion": "before-loan"})

    assert (newest(world).grade, newest(world).finish_grade, newest(world).horn) == (1, finish, world.horn)


@pytest.mark.parametrize("tap", ["fine-0", "fine-5", "fine-x", "2"])
def test_a_tap_that_no_button_stands_for_is_an_empty_check_and_keeps_nothing(world, tap):
    assert world.browser.post(world.address, {"as_before": tap, "seen": "0"}).status_code == 422
    assert not ConditionCheck.objects.exists()


def test_all_fine_without_a_finish_is_refused_for_a_horn_that_was_never_checked(world):
    answer = world.browser.post(world.address, {"as_before": "fine", "seen": "0", "occasion": "yearly"})

    assert answer.status_code == 409
    assert answer.context["refused"].sentence == f"{world.horn} has never been checked. Say how its finish is."


def test_all_fine_is_refused_once_somebody_has_found_something_since(world):
    old = make.check(world.horn, world.technician)
    make.finding(make.check(world.horn, world.technician, grade=2, at=make.NOW + timedelta(hours=1)), severity="w")

    answer = world.browser.post(world.address, {"as_before": "fine", "seen": old.pk, "occasion": "yearly"})

    assert answer.status_code == 409
    assert Finding.objects.filter(mended_at=None).count() == 1


def test_all_fine_sent_twice_is_kept_once(world):
    said = {"by": world.technician, "at": make.NOW, "occasion": "yearly", "seen": 0, "sent_as": uuid4()}

    once = check_all_fine(horn=world.horn, finish_grade=2, **said)

    assert check_all_fine(horn=world.horn, finish_grade=2, **said) == once
    with pytest.raises(Refused, match="what it was like before is not what you saw"):
        check_all_fine(horn=world.horn, finish_grade=2, **{**said, "sent_as": uuid4()})


def test_the_newest_checks_of_many_horns_are_found_in_one_query(world, django_assert_num_queries):
    other, never = make.horn(world.school), make.horn(world.school)
    make.check(world.horn, world.technician)
    later = make.check(world.horn, world.technician, at=make.NOW + timedelta(minutes=1))
    only = make.check(other, world.technician)

    with django_assert_num_queries(1):
        found = latest_checks_of([world.horn.pk, other.pk, never.pk])

    assert found == {world.horn.pk: later, other.pk: only}
