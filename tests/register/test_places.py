"""Rooms and shelves."""

from __future__ import annotations

from datetime import date
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from fleet.register.actions.places import keep_place, merge_places
from fleet.register.forms.places import PlaceForm
from fleet.register.models import Horn, Place
from tests import make

pytestmark = pytest.mark.django_db


def test_a_place_is_added_and_renamed(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school))

    client.post(f"/s/{school.slug}/places/new/", {"room": "  Music   room ", "shelf": "عليا 🎺"})
    place = Place.objects.get(school=school)
    assert (place.room, place.shelf) == ("Music room", "عليا 🎺")

    answer = client.post(f"/s/{school.slug}/places/{place.pk}/", {"room": "Store", "shelf": ""})
    place.refresh_from_db()
    assert (answer.url, str(place)) == (f"/s/{school.slug}/places/", "Store")


def test_a_horn_is_found_by_the_new_name_of_its_place_only(as_):
    school = make.school()
    place = make.place(school, room="Störe")
    horn, other = make.horn(school, place=place), make.horn(school)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(f"/s/{school.slug}/places/{place.pk}/", {"room": "Cellar", "shelf": "Höhe"})

    here = Horn.objects.at(school)
    assert list(here.having_words("cellar hohe", school=school)) == [horn]
    assert list(here.having_words("store", school=school)) == []
    assert list(here.having_words("cellar", school=school).filter(pk=other.pk)) == []


def test_the_same_place_twice_is_said_beside_the_room(as_):
    school = make.school()
    make.place(school, room="Store", shelf="A")
    client = as_(make.staff(Role.HEAD, school))

    answer = client.post(f"/s/{school.slug}/places/new/", {"room": "store", "shelf": "a"})

    assert answer.context["form"].errors == {"room": ["There is already a place with this room and shelf."]}
    with pytest.raises(IntegrityError, match="place_unique"), transaction.atomic():
        make.place(school, room="STORE", shelf="a")
    make.place(make.school(), room="Store", shelf="A")


@pytest.mark.parametrize(
    ("room", "shelf", "asked"),
    [
        ("Horn-Cupboard", "botom", True),
        ("Horn cupboard", "top", False),
        ("Horn cupboard", "A", False),
        ("Horn cupboard 2", "bottom", False),
        ("Attic", "", False),
    ],
)
def test_a_place_close_to_one_that_is_there_needs_a_tick(room, shelf, asked):
    school = make.school()
    there = [make.place(school, room="Horn cupboard", shelf=one) for one in ("bottom", "B")]
    make.place(make.school(), room=room, shelf=shelf)
    said = {"room": room, "shelf": shelf}

    def errors(sent, place=None):
        return PlaceForm(sent, instance=place or Place(school=school)).errors

    wrong = {"another": ["Horn cupboard, bottom is there already: write it so, or tick this."]} if asked else {}
    assert errors(said) == wrong
    assert errors({**said, "another": "on"}) == {}
    assert errors(said, there[0]) == {}
    assert errors(said, there[1]) == wrong


def test_a_place_can_be_saved_as_it_is_and_a_room_is_needed(as_):
    school = make.school()
    place = make.place(school, room="Store", shelf="A")
    client = as_(make.staff(Role.HEAD, school))

    same = client.post(f"/s/{school.slug}/places/{place.pk}/", {"room": "Store", "shelf": "A"})
    none = client.post(f"/s/{school.slug}/places/{place.pk}/", {"room": " ", "shelf": "A"})

    assert same.status_code == 302
    assert list(none.context["form"].errors) == ["room"]


def test_places_say_how_many_horns_the_school_keeps_there(as_):
    school = make.school()
    store, empty = make.place(school, room="Store"), make.place(school, room="Attic")
    make.horn(school, place=store)
    make.horn(school, place=store, withdrawn_on=date(2026, 1, 1))
    make.place(make.school(), room="Elsewhere")

    answer = as_(make.staff(Role.TECHNICIAN, school)).get(f"/s/{school.slug}/places/")

    assert [(place, place.there) for place in answer.context["table"].data] == [(empty, 0), (store, 1)]
    text = answer.content.decode()
    assert f"/s/{school.slug}/horns/?place={store.pk}" in text
    assert "Elsewhere" not in text
    assert "Rename" not in text  # A technician reads places only.


def test_a_technician_may_not_change_places(as_):
    school = make.school()
    place = make.place(school)
    client = as_(make.staff(Role.TECHNICIAN, school))

    assert client.post(f"/s/{school.slug}/places/new/", {"room": "x"}).status_code == 403
    assert client.post(f"/s/{school.slug}/places/{place.pk}/", {"room": "x"}).status_code == 403


def test_another_schools_place_is_404(as_):
    school = make.school()
    theirs = make.place(make.school())

    assert as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/places/{theirs.pk}/").status_code == 404


@pytest.mark.parametrize("rows", [1, 3])
def test_places_take_five_queries(as_, rows):
    school = make.school()
    for _ in range(rows):
        make.horn(school, place=make.place(school))
    client = as_(make.staff(Role.HEAD, school))
    client.get(f"/s/{school.slug}/places/")

    with CaptureQueriesContext(connection) as queries:
        client.get(f"/s/{school.slug}/places/")

    assert len(queries) == 5


def test_places_stand_as_people_read_them_in_each_list_and_choice(as_):
    school = make.school()
    told = [("Room 10", ""), ("Room 2", "shelf 10"), ("Room 2", "shelf 9"), ("Room 2", "")]
    places = {one: make.place(school, room=one[0], shelf=one[1]) for one in told}
    in_order = [places[one] for one in reversed(told)]
    horns = [make.horn(school, place=place) for place in in_order]
    client = as_(make.staff(Role.TEACHER, school))

    shown = client.get(f"/s/{school.slug}/places/").context["table"].data
    listed = client.get(f"/s/{school.slug}/horns/?sort=place")
    choices = client.get(f"/s/{school.slug}/horns/new/").context["form"].fields["place"].queryset

    assert list(shown) == in_order
    assert [row.pk for row in listed.context["page"].rows] == [horn.pk for horn in horns]
    assert [key for key, _ in listed.context["page"].places] == [place.pk for place in in_order]
    assert list(choices) == in_order


def test_a_renamed_place_stands_under_its_new_name(as_):
    school = make.school()
    one, other = make.place(school, room="Room 2"), make.place(school, room="Room 10")
    as_(make.staff(Role.TEACHER, school)).post(f"/s/{school.slug}/places/{one.pk}/", {"room": "Room 11", "shelf": ""})

    assert list(school.places.all()) == [other, one]


def test_places_of_before_are_put_in_order():
    school = make.school()
    other, one = make.place(school, room="Room 10"), make.place(school, room="Room 2")
    Place.objects.update(sorted_by="")

    import_module("fleet.register.migrations.0017_places_in_order").fill(apps, None)

    assert list(school.places.all()) == [one, other]


@pytest.mark.parametrize(
    ("room", "shelf", "taken"),
    [("STORE, top", "", True), ("Store", "Top", True), ("Attic,", "top", False), ("Store, bottom", "", False)],
)
def test_a_place_is_not_written_down_that_reads_as_another(as_, room, shelf, taken):
    school = make.school()
    make.place(school, room="Store", shelf="top")
    make.place(make.school(), room="Store, bottom", shelf="")
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(f"/s/{school.slug}/places/new/", {"room": room, "shelf": shelf})

    assert answer.status_code == (422 if taken else 302)
    if taken and not shelf:
        assert answer.context["form"].errors == {"room": ["Another place reads the same: room “Store”, shelf “top”."]}


@pytest.mark.parametrize("many", [50, 51])
def test_fifty_places_stand_on_a_page_and_the_rest_on_the_next(as_, many):
    school = make.school()
    Place.objects.bulk_create(Place(school=school, room=f"R{n:02}", sorted_by=f"r{n:02}") for n in range(many))
    client, address = as_(make.staff(Role.TEACHER, school)), f"/s/{school.slug}/places/"

    first, second = (client.get(address, {"page": page}).content.decode() for page in (1, 2))

    assert ("R49" in first, "R50" in first, "Page 1 of 2, 51 in all" in first) == (True, False, many == 51)
    assert ("R50" in second) is (many == 51)


def test_horns_are_sorted_by_their_place_as_it_is_called_now(as_):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    attic, hall = (make.place(school, room=room) for room in ("Room 10", "Room 2"))
    make.horn(school, number="HN-1", place=attic)
    make.horn(school, number="HN-2")
    moved = make.horn(school, number="HN-3", place=hall)

    def numbers(sort):
        page = as_(head).get(f"/s/{school.slug}/horns/?sort={sort}").context["page"]
        return [horn.number for horn in page.rows]

    assert numbers("place") == ["HN-3", "HN-1", "HN-2"]
    assert numbers("-place") == ["HN-1", "HN-3", "HN-2"]
    keep_place(place=attic, room="Room 1", shelf="", by=head, at=make.NOW)
    assert numbers("place") == ["HN-1", "HN-3", "HN-2"]
    merge_places(twice=hall, into=attic, by=head, at=make.NOW)
    moved.refresh_from_db()
    assert moved.place_order == attic.sorted_by
