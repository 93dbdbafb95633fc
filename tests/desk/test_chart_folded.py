"""A chart where there is little room: in parts of an octave, what is chosen and what is good to know folded."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from fleet.ground.access import Role
from tests import make

pytestmark = pytest.mark.either_engine


@pytest.fixture
def shown(db, as_):
    """The page of a double horn's chart, by what is asked of it."""
    school = make.school()
    horn = make.horn(school, build="double-full", stands_in="F")
    client = as_(make.staff(Role.TEACHER, school))
    return lambda query: client.get(reverse("desk:chart", args=[school.slug, horn.pk]) + query).content.decode()


def test_what_is_chosen_of_a_chart_is_said_where_the_choices_are_folded(shown):
    page = shown("?thumb=never&with=trills")

    assert re.search(r'How it is taught\s+<span class="quiet">Thumb never pressed · Also show trills</span>', page)


def test_a_phone_gets_all_notes_in_parts_where_more_stands_below_each_and_each_note_once(shown):
    drawn = shown("?with=trills")
    few = shown("?notes=octave&with=trills")
    rows = shown("?as=table")

    parts = ["Below C3", "C3 to B3", "C4 to B4", "C5 and higher"]
    assert re.findall(r'<details class="fold chart-narrow"[^>]*>\s*<summary>([^<]+)</summary>', drawn) == parts
    assert [drawn.count(f"{note} ") for note in ("; C♯4", "; B4", "; C♯5")] == [2, 2, 2]  # for a desk and a phone
    assert "C3 to B3" not in few
    assert re.findall(r'<details class="fold unfolds"( open)?>\s*<summary>C4', rows) == [" open"]
    written = re.findall(r'<th scope="row">([^<]+)</th>', rows)
    assert len(written) == len(set(written))
    assert written[0] == "F♯2"
