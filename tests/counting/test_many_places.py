"""A count begun where there are more places than one page draws."""

from __future__ import annotations

import pytest

from fleet.counting.models import Count
from tests import make
from tests.pages import folded


@pytest.mark.parametrize("many", [50, 51])
def test_beyond_fifty_places_others_are_found_and_what_is_ticked_stays(as_, cupboard, many):
    school = cupboard.school
    new = f"/s/{school.slug}/counts/new/"
    rooms = [f"Room {n:03d}" for n in range(many - school.places.count())]
    wanted = [make.place(school, room=room) for room in rooms]
    teacher, last = as_(cupboard.teacher), wanted[-1]
    opened = folded(teacher.get(new))
    assert (opened.count('name="places"'), 'name="find"' in opened) == (50, many > 50)

    found = teacher.post(new, {"do": "find", "kind": "places", "find": last.room, "places": wanted[0].pk})
    assert (found.status_code, folded(found).count('name="places"')) == (200, 2)
    assert found.context["form"]["places"].value() == [str(wanted[0].pk)]
    assert ("The first 50 stand above." in opened, "stand above" in folded(found)) == (many > 50, False)
    nowhere = folded(teacher.post(new, {"do": "find", "kind": "places", "find": "attic", "places": wanted[0].pk}))
    assert (nowhere.count('name="places"'), "No other place has these words." in nowhere) == (1, True)
    make.horn(school, place=last)
    teacher.post(new, {"kind": "places", "places": [wanted[0].pk, last.pk]})
    assert Count.objects.get().lines.count() == 1
