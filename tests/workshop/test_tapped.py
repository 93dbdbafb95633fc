"""Where something is wrong is tapped on the drawing of exactly this horn, and the list is the other way."""

from __future__ import annotations

import re

import pytest
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.workshop.models import Finding
from fleet.workshop.models.fitted import places
from fleet.workshop.queries.condition import places_of
from identify.core.drawing.spots import spots
from identify.core.drawing.whole import whole
from identify.core.horns.catalogue import catalogue
from tests import make
from tests.pages import folded


def test_every_spot_of_every_build_lies_in_its_drawing_and_names_a_place_that_the_build_has(db):
    school = make.school()
    for build in catalogue().values():
        horn = make.horn(school, build=build.code)
        drawn, told = whole(build), spots(build)
        for spot in told:
            if spot.at in {"valves", "slides"}:
                assert spot.code in places(spot.at, horn), (build.code, spot)
            assert 0 <= spot.x <= spot.x + spot.wide <= drawn.width, (build.code, spot)
            assert 0 <= spot.y <= spot.y + spot.high <= drawn.height, (build.code, spot)
        assert len({(one.at, one.code) for one in told}) == len(told), build.code


def test_whoever_reads_german_can_tap_on_the_same_places_and_finds_the_same_faults(db):
    horn = make.horn(make.school(), build="double-full", stands_in="F")
    english = [(one.key, one.faults) for one in places_of(horn)]

    with override("de"):
        german = [(one.key, one.faults, str(one.words)) for one in places_of(horn)]

    assert [one[:2] for one in german] == english
    assert ("bell", "Schallbecher") in {(key, words) for key, _, words in german}


@pytest.fixture
def world(db, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school)
        horn = make.horn(school, build="double-full", stands_in="F")
        browser = as_(technician)

        @classmethod
        def get(cls, path: str) -> str:
            return folded(cls.browser.get(f"/s/{cls.school.slug}/horns/{cls.horn.pk}/{path}"))

    return World


def test_a_place_tapped_leads_to_its_faults_and_a_fault_to_a_check_in_which_it_is_ticked(world):
    page = world.get("where/")
    assert page.count('aria-label="3rd valve"') == 1
    assert page.count('?at=valves-3"') == 2

    page = world.get("where/?at=valves-3")
    assert f"<title> {world.horn}: 3rd valve · {world.school.name} </title>" in page
    assert "what is wrong with the 3rd valve?" in page
    assert "fault=rotor-leaking&amp;at=3" in page

    page = world.get("check/?fault=rotor-leaking&at=3")
    ticked = re.findall(r'<input type="checkbox" name="([a-z-]+)"(?: id="[^"]*"| value="([^"]*)")+ checked', page)
    assert sorted(name for name, _ in ticked) == ["at-rotor-leaking", "found-rotor-leaking"]
    assert page.count("data-tapped") == 2


def test_a_place_tapped_is_added_to_those_known_before(world):
    check = make.check(world.horn, world.technician)
    make.finding(check, "rotor-leaking", "w", places=["1"])
    page = world.get("check/?fault=rotor-leaking&at=3")
    boxes = re.findall(r'name="at-rotor-leaking" value="([^"]*)" checked', page)
    assert boxes == ["1", "3"]


@pytest.mark.parametrize("asked", ["?fault=nothing&at=3", "?fault=rotor-leaking&at=9", "?fault=&at="])
def test_what_this_horn_does_not_have_is_not_ticked(world, asked):
    page = world.get(f"check/{asked}")
    assert 'name="at-rotor-leaking" value="9"' not in page
    assert len(re.findall(r"data-tapped", page)) == ("rotor" in asked)
    assert world.get("where/?at=valves-9").count("where is it?") == 2


def test_a_horn_that_nobody_has_identified_has_the_list_alone(world, as_):
    horn = make.horn(world.school, build="")
    page = folded(world.browser.get(f"/s/{world.school.slug}/horns/{horn.pk}/where/"))
    assert "<svg" not in page.split('id="main"')[1]
    assert "?at=valves-stopping" in page


def test_each_place_has_faults_of_its_own_part_alone(world):
    told = {one.key: {fault.part for fault in one.faults} for one in places_of(world.horn)}
    assert told["bell"] == {"Bell"}
    assert "Thumb lever and its valve" in told["valves-change"]
    assert "Thumb lever and its valve" not in told["valves-1"]
    assert "valves-stopping" not in told


def test_what_is_tapped_and_saved_is_a_finding_at_its_place(world):
    said = {
        "occasion": "other",
        "finish_grade": "1",
        "found-rotor-leaking": "on",
        "at-rotor-leaking": "3",
        "whole": "1",
    }
    world.browser.post(f"/s/{world.school.slug}/horns/{world.horn.pk}/check/?fault=rotor-leaking&at=3", said)
    assert Finding.objects.values_list("fault", "places").get() == ("rotor-leaking", ["3"])
