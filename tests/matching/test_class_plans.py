"""What a class plays on and where: what a head chooses from."""

from __future__ import annotations

import pytest

from fleet.matching.forms import plan_forms
from fleet.matching.models import ClassPlan
from tests import make

pytestmark = pytest.mark.django_db


def test_a_class_has_the_choice_of_its_own_schools_rooms_and_of_the_one_it_was_given_before():
    school = make.school()
    for room in ("hall", "Attic", "Attic"):
        make.place(school, room=room, shelf=room + str(school.places.count()))
    make.place(make.school(), room="Secret room")
    ClassPlan.objects.create(school=school, group="Band", stands_in="F", room="Barn")

    band, choir = plan_forms(None, school=school, groups=[(0, "Band"), (1, "Choir")])

    assert [key for key, _ in band.fields["room"].choices] == ["", "Attic", "Barn", "hall"]
    assert [key for key, _ in choir.fields["room"].choices] == ["", "Attic", "hall"]
