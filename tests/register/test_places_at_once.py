"""A place gets another name while something happens to a horn that is kept there."""

from __future__ import annotations

from functools import partial

import pytest

from fleet.ground.access import Role
from fleet.register.actions.places import keep_place
from fleet.register.models import Horn
from tests import make
from tests.at_once import all_at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_horn_is_found_by_the_new_name_whoever_was_first():
    school = make.school()
    place = make.place(school, room="Store")
    head = make.staff(Role.HEAD, school)
    horns = [make.horn(school, place=place) for _ in range(6)]

    for room in ("Cellar", "Attic", "Tower", "Hall"):
        Horn.objects.filter(place=place).update(mouthpiece_owed=True)
        rename = partial(keep_place, place=place, room=room, shelf="", by=head, at=make.NOW)
        outcomes = all_at_once([rename, *(partial(make.keep, [horn]) for horn in horns)])

        assert not [one for one in outcomes if isinstance(one, Exception)], outcomes
        for horn in Horn.objects.at(school).select_related("place"):
            assert horn.search == horn.searched_in()
            assert room.lower() in horn.search
