"""What is meant by words, of many places or classes."""

from __future__ import annotations

import pytest

from fleet.people.forms.one_of_many import OFFERED, Unclear, meant, to_tick

NAMES = ["Room 1", "Room 10", "Room 1, top", "Bläserzimmer", "büro", "Büro", "Hall, shelf 10", "Hall, shelf 1"]
ROOMS = list(enumerate(NAMES))


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        *[("Room 1", 0), ("room 1", 0), ("room 10", 1), ("top 1", 2), ("room top", 2), ("ROOM 1, TOP", 2)],
        *[("blaser", 3), ("Zimmer Bläs", 3), ("büro", 4), ("Büro", 5), ("1 hall", 7)],
    ],
)
def test_a_name_means_its_own_and_words_the_only_one_that_has_them(typed, key):
    assert meant(typed, ROOMS) == key


@pytest.mark.parametrize(
    ("typed", "having", "sentence"),
    [
        ("attic", [], "Nothing here has “attic” in its name. Write other words."),
        ("room", [0, 1, 2], "Several have “room” in their names: choose one of them."),
        ("1 o", [0, 1, 2], "Several have “1 o” in their names: choose one of them."),
        ("1", [0, 2, 7, 1, 6], "Several have “1” in their names: choose one of them."),
        ("BURO", [4, 5], "Several have “BURO” in their names: choose one of them."),
    ],
)
def test_other_words_mean_none_and_come_with_those_that_have_them(typed, having, sentence):
    unclear = meant(typed, ROOMS)
    assert isinstance(unclear, Unclear)
    assert ([key for key, _ in unclear.having], unclear.sentence) == (having, sentence)


def test_of_more_than_are_offered_it_is_said_how_many_there_are():
    rooms = [(n, f"Room {n}") for n in range(OFFERED + 1)]
    assert "Several have" in meant("room", rooms[1:]).sentence
    assert meant("room", rooms).sentence.startswith("26 have “room” in their names: choose one of the first 25,")


@pytest.mark.parametrize(("many", "more"), [(50, False), (51, True)])
def test_fifty_besides_those_ticked_stand_to_be_ticked(many, more):
    rooms = [(n, f"Room {n}") for n in range(many + 1)]
    assert to_tick(rooms, {7, "7"}, "") == ([rooms[7]], [one for one in rooms if one[0] != 7][:50], more)
    assert to_tick(rooms, {7}, "room 12") == ([rooms[7]], [rooms[12]], False)
