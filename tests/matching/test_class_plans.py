"""What a class plays on and where: what a head chooses from."""

from __future__ import annotations

import pytest

from fleet.matching.forms import plan_forms
from fleet.matching.models import ClassPlan
from tests import make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("ATTIC", "Attic"),
        (" hall ", "hall"),
        ("", ""),
        ("Barn", "Barn"),
        ("Secret room", None),
        ("att", "Attic"),
        ("a", None),
    ],
)
def test_a_class_plays_in_a_room_of_its_own_school_or_in_that_which_it_was_given_before(typed, kept):
    school = make.school()
    for room in ("hall", "Attic", "Attic"):
        make.place(school, room=room, shelf=room + str(school.places.count()))
    make.place(make.school(), room="Secret room")
    ClassPlan.objects.create(school=school, group="Band", stands_in="F", room="Barn")
    sent = {"class-0-group": "Band", "class-0-room": typed, "class-1-group": "Choir", "class-1-room": "Barn"}

    band, choir = plan_forms(sent, school=school, groups=[(0, "Band"), (1, "Choir")])

    assert list(band.rooms.values()) == ["Attic", "hall"]
    assert (band.cleaned_data["room"] if band.is_valid() else None) == kept
    assert not choir.is_valid()
    assert choir.errors == {"room": ["There is no such room among the places."]}
