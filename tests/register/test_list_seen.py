"""The list of horns as people look through it: sorted by place, narrowed in one tap, with small photographs."""

from __future__ import annotations

import io
import re
from datetime import timedelta

import pytest
from PIL import Image

from fleet.ground.access import Role
from fleet.register.models import Photograph
from tests import make
from tests.register.test_horn_list import listed
from tests.register.test_photographs import add, picture

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def test_horns_are_sorted_by_room_and_shelf_and_those_without_a_place_come_last(as_, school):
    places = [make.place(school, room=room, shelf=shelf) for room, shelf in (("B", "1"), ("A", "2"), ("A", "1"))]
    for number, place in zip(("HN-1", "HN-2", "HN-3", "HN-4"), (*places, None), strict=True):
        make.horn(school, number=number, place=place)
    make.horn(school, number="HN-5", place=places[2])
    client = as_(make.staff(Role.HEAD, school))

    assert listed(client, school, "?sort=place")[0] == ["HN-3", "HN-5", "HN-2", "HN-1", "HN-4"]
    assert listed(client, school, "?sort=-place")[0] == ["HN-1", "HN-2", "HN-5", "HN-3", "HN-4"]


@pytest.mark.parametrize(
    ("query", "marked", "folded_away"),
    [
        ("", [], True),
        ("?ready=yes", ["Ready to lend"], True),
        ("?owed=overdue", ["Overdue"], True),
        ("?owed=something", ["Owes something"], True),
        ("?ready=no", [], False),
        ("?owed=check", [], False),
        ("?group=5b&place=1&q=h&where=out", [], True),
        ("?grade=1", [], False),
    ],
)
def test_what_is_asked_for_most_is_one_tap_and_marked(as_, school, query, marked, folded_away):
    make.horn(school)

    _, text = listed(as_(make.staff(Role.HEAD, school)), school, query)

    assert re.findall(r'aria-current="true">([^<]+)</a>', text) == marked
    assert ('<details class="fold" open' not in " ".join(text.split())) is folded_away


def test_classes_to_choose_from_are_those_that_have_horns(as_, school):
    for group in ("Übung", "Ukulele", "5b", "5b", ""):
        make.horn(school, holder_name="Bo", holder_group=group)
    client = as_(make.staff(Role.HEAD, school))

    for query in ("", "?q=nothing-like-that"):
        page = client.get(f"/s/{school.slug}/horns/{query}").context["page"]
        assert page.classes == ["5b", "Übung", "Ukulele"]


def test_a_horn_with_photographs_shows_its_newest_small(as_, school, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    make.horn(school)
    for days in (2, 1, 1):
        at = make.NOW - timedelta(days=days)
        newest = horn.photographs.create(at=at, by=head, image="horns/gone.jpg", width=9, height=9)

    _, text = listed(as_(head), school)

    assert re.findall(r'<img class="thumb" src="([^"]+)"', text) == [
        f"/s/{school.slug}/photographs/{newest.pk}/?small=1"
    ]


@pytest.mark.parametrize(("sent", "shown"), [((400, 200), (160, 80)), ((200, 320), (100, 160)), ((160, 20), (160, 20))])
def test_a_list_gets_a_small_photograph(as_, school, settings, sent, shown):
    horn = make.horn(school)
    client = as_(make.staff(Role.TECHNICIAN, school))
    add(client, school, horn, picture(*sent))
    address = f"/s/{school.slug}/photographs/{Photograph.objects.get().pk}/?small=1"

    small = client.get(address)

    assert Image.open(io.BytesIO(small.content)).size == shown
    assert small.headers["Content-Type"] == "image/jpeg"
    assert "sandbox" in small.headers["Content-Security-Policy"]
