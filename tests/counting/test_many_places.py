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


@pytest.mark.parametrize("typed", ["BLÄSER", "blaserzimmer regal", "Läs Blä"])
def test_a_place_is_found_in_whatever_case_and_with_or_without_its_accents(as_, cupboard, typed):
    wanted = make.place(cupboard.school, room="Bläserzimmer", shelf="Regal 2")
    new = f"/s/{cupboard.school.slug}/counts/new/"
    found = as_(cupboard.teacher).post(new, {"do": "find", "kind": "places", "find": typed})
    assert [key for key, _ in found.context["form"]["places"].field.widget.choices] == [wanted.pk]


def test_room_6_stands_before_room_14_wherever_a_place_is_chosen(as_, cupboard):
    school = cupboard.school
    later, sooner = (make.place(school, room=room) for room in ("Room 14", "Room 6"))
    horn = make.horn(school, place=sooner)
    teacher, at = as_(cupboard.teacher), f"/s/{school.slug}/counts/"
    count = cupboard.begin()
    shelf = teacher.get(f"{at}{count.pk}/shelf/?place={sooner.pk}")
    cupboard.see(count, horn, later)
    cupboard.end(count)
    line = as_(cupboard.head).get(f"{at}lines/{count.lines.get(horn=horn).pk}/")
    offered = [
        [key for key, _ in teacher.get(f"{at}new/").context["form"]["places"].field.widget.choices],
        [key for key, _ in shelf.context["elsewhere"].fields["place"].widget.choices],
        [one.pk for one in line.context["form"].fields["place"].queryset],
    ]
    for keys in offered:
        assert keys.index(sooner.pk) < keys.index(later.pk)
