"""A check asks for the parts of this build and no others."""

from __future__ import annotations

from functools import cache

import pytest

from fleet.ground.access import Role
from fleet.register.models import Horn
from fleet.workshop.forms.checks import CheckForm
from fleet.workshop.models.faults import catalogue
from fleet.workshop.models.fitted import fitted
from fleet.workshop.queries.condition import open_findings
from identify.core.horns.catalogue import catalogue as builds
from tests import make


@cache
def asked(build: str, bell: str = "") -> frozenset[str]:
    return frozenset(CheckForm(horn=Horn(build=build, bell=bell)).asked)


def parts(build: str) -> list[str]:
    return [name for name, _ in CheckForm(horn=Horn(build=build)).parts()]


# What each build has, from the trade: common practice, no source.
ROTORS = {"rotor-sluggish", "string-broken", "bumper-worn"}
PISTONS = {"piston-sluggish", "piston-felt-worn", "pistons-swapped"}
THUMB = {"thumb-lever-loose", "thumb-valve-sluggish"}


def test_a_single_has_rotors_one_set_of_slides_and_no_thumb_lever():
    found = asked("single-f")

    assert ROTORS | {"slide-frozen", "slide-loose"} <= found
    assert not (PISTONS | THUMB | {"slides-swapped", "f-slide-frozen", "strung-for-other-stand"}) & found
    assert "Thumb lever and its valve" not in parts("single-f")


def test_a_double_has_a_thumb_lever_and_two_sets_of_slides():
    found = asked("double-full")

    assert ROTORS | THUMB | {"slides-swapped", "f-slide-loose", "bb-slide-loose", "strung-for-other-stand"} <= found
    assert not (PISTONS | {"slide-loose", "high-slide-loose"}) & found
    assert {"Slides of the F side", "Slides of the B♭ side"} <= set(parts("double-full"))


def test_a_descant_has_a_high_side_and_a_triple_all_three():
    assert {"bb-slide-frozen", "high-slide-frozen"} <= asked("descant-bb-high-f")
    assert "f-slide-frozen" not in asked("descant-bb-high-f")
    assert {"f-slide-frozen", "bb-slide-frozen", "high-slide-frozen"} <= asked("triple-full")


def test_a_mellophone_has_pistons_and_neither_rotors_nor_strings():
    found = asked("mellophone-f")

    assert found >= PISTONS
    assert not (ROTORS | THUMB | {"lever-spring-broken"}) & found


def test_a_vienna_horn_has_push_rods_and_no_strings():
    assert {"push-rod-bent", "piston-sluggish"} <= asked("vienna-f")
    assert not (ROTORS | {"piston-felt-worn"}) & asked("vienna-f")


def test_rotors_that_are_turned_without_strings_are_not_asked_about_strings():
    strings = {"string-broken", "string-frayed", "string-screw-loose"}

    for code in ("flugelhorn-bb", "alto-horn-eb", "baritone-bb"):
        assert {"rotor-sluggish", "bumper-worn", "linkage-clicking", "lever-spring-broken"} <= asked(code)
        assert not strings & asked(code)
    assert strings <= asked("wagner-bass-f")


def test_a_natural_horn_has_no_valves_at_all():
    assert not {code for code in asked("natural-horn") if "rotor" in code or "piston" in code or "valve" in code}
    assert {"bell-torn", "leadpipe-pierced", "mouthpiece-stuck"} <= asked("natural-horn")


@pytest.mark.parametrize("build", ["hunting-horn-d", "post-horn-bb", "bugle-bb"])
def test_a_horn_without_valves_has_no_water_key_and_crooks_only_if_it_is_a_natural_one(build):
    assert not {"water-key-leaking", "crook-loose"} & asked(build)
    assert {"bell-torn", "mouthpiece-stuck"} <= asked(build)


def test_a_natural_horn_has_crooks_and_neither_water_key_nor_finger_hook_and_nothing_else_has_crooks():
    crooks = {"crook-loose", "crook-stuck", "crook-dented", "crook-missing"}

    assert crooks <= asked("natural-horn")
    assert not {"water-key-leaking", "finger-hook-broken"} & asked("natural-horn")
    assert [code for code in builds() if crooks & asked(code)] == ["natural-horn"]


def test_a_stopping_valve_has_a_slide_of_its_own():
    with_one = {code for code in builds() if "stopping-slide-frozen" in asked(code)}

    assert {code for code in builds() if code.endswith("-stopping") or "-stopping-" in code} <= with_one
    assert not {"single-f", "double-full", "mellophone-f"} & with_one


def test_only_sides_that_a_thumb_lever_changes_between_have_slides_of_their_own():
    assert not {"slides-swapped", "f-slide-frozen", "bb-slide-frozen"} & asked("baritone-bb")
    assert {"slide-frozen", "slide-loose"} <= asked("baritone-bb")


@pytest.mark.parametrize("build", ["mellophone-f", "alto-horn-eb", "marching-horn-bb", "wagner-bass-f", "natural-horn"])
def test_where_bells_are_in_one_piece_a_thread_is_asked_for_only_once_somebody_saw_it(build):
    assert "bell-thread-damaged" not in asked(build)
    assert "bell-thread-damaged" in asked(build, bell="screw")


def test_a_bell_known_to_be_fixed_has_no_thread():
    assert "bell-thread-damaged" in asked("double-full")
    assert "bell-thread-damaged" not in asked("double-full", bell="fixed")


def test_of_a_horn_nobody_has_named_everything_is_asked():
    assert fitted(Horn(build="")) is None
    assert asked("") == set(catalogue().by_code)


@pytest.mark.parametrize("build", sorted(builds()))
def test_every_build_is_asked_for_its_own_parts_and_every_fault_is_met_somewhere(build):
    found = asked(build)

    assert {"bell-torn", "mouthpiece-stuck", "case-damaged"} <= found
    has_valves = bool(builds()[build].valves)
    assert has_valves == bool(found & {"rotor-sluggish", "piston-sluggish"})
    assert set(catalogue().by_code) == set().union(*(asked(code) for code in builds()))


def test_what_was_found_before_stays_on_the_check_of_a_horn_since_identified_as_another_build(db):
    school = make.school()
    technician = make.staff(Role.TECHNICIAN, school)
    horn = make.horn(school, build="mellophone-f")
    make.finding(make.check(horn, technician), "string-broken", "r", note="third")

    form = CheckForm(
        {"found-string-broken": "on", "occasion": "yearly", "finish_grade": "2"},
        horn=horn,
        known=open_findings(horn),
    )

    assert form.is_valid()
    assert [one.fault for one in form.found()] == ["string-broken"]


def test_a_fault_this_build_cannot_have_is_not_taken_from_a_forged_form(db):
    form = CheckForm(
        {"found-thumb-lever-loose": "on", "occasion": "yearly", "finish_grade": "2"},
        horn=Horn(build="single-f"),
    )

    assert form.is_valid()
    assert form.found() == []
