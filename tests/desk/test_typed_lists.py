"""While somebody types, a list answers with what was found and nothing around it; sent, with its whole page."""

from __future__ import annotations

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from fleet.register.models import Horn
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]
TYPED = {"HX-Request": "true", "HX-Target": "found"}


@pytest.fixture
def head():
    head = make.staff(Role.HEAD, school := make.school())
    pupil = make.pupil(school, make.guardian(school), name="Ömer Aydın", group="5b")
    make.letter(make.loan(make.horn(school, number="HN-1"), pupil, head))
    make.check(make.horn(school, number="HN-2"), head)
    return head


@pytest.mark.parametrize(
    ("page", "number"),
    [
        ("register:horns", ""),
        ("people:pupils", ""),
        ("loans:loans", ""),
        ("loans:letters", ""),
        ("loans:issue", ""),
        ("loans:issue", "HN-2"),
    ],
)
def test_what_was_found_comes_alone_and_as_on_the_whole_page(as_, head, page, number):
    client, address = as_(head), reverse(page, args=[head.posts.get().school.slug])
    asked = {"q": "ömer"} | ({"horn": Horn.objects.get(number=number).pk} if number else {})

    whole, typed = client.get(address, asked), client.get(address, asked, headers=TYPED)

    said = folded(typed)
    assert "HN-1" in said
    assert said[said.index('<p id="said"') :].strip() in folded(whole)
    assert ('<p id="ways"' in said) == (page == "register:horns")
    assert [one for one in ("<html", "<main", 'type="search"') if one in said] == []
    for answer in (whole, typed):
        assert {"HX-Request", "HX-Target"} <= set(answer["Vary"].split(", "))


def test_whoever_asks_for_another_part_of_the_page_gets_it_whole(as_, head):
    address = reverse("people:pupils", args=[head.posts.get().school.slug])

    assert "<main" in folded(as_(head).get(address, headers={"HX-Request": "true", "HX-Target": "main"}))
