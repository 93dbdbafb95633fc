"""Which builds a build is taken for, and the one check that tells."""

from __future__ import annotations

import pytest

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.apart import makes_sense, taken_for


@pytest.mark.parametrize("code", [*catalogue()])
def test_the_check_named_is_answered_otherwise_by_the_other_build(code):
    found = taken_for(catalogue()[code])

    assert 1 <= len(found) <= 3
    assert code not in {one.other.code for one in found}
    assert all(one.mine != one.theirs for one in found if one.check)
    both = [(build, one.check) for one in found if one.check for build in (catalogue()[code], one.other)]
    assert [(build.code, key) for build, key in both if not makes_sense(build, key)] == []


@pytest.mark.parametrize(
    ("one", "other", "check"),
    [
        ("single-f", "compact-f", "length"),
        ("double-full", "double-compensating", "second_set"),
        ("double-full", "compact-double-full", "length"),
        ("vienna-double", "double-full", "mechanism"),
        ("flugelhorn-bb", "trumpet-bb", "width"),
        ("mellophone-f", "mellophone-eb", "test_note"),
        ("triple-full", "double-full", "slide_sets"),
    ],
)
def test_the_pairs_that_are_confused_most_are_told_apart_by_what_differs(one, other, check):
    found = {each.other.code: each.check for each in taken_for(catalogue()[one])}

    assert found[other] == check


def test_a_horn_without_a_thumb_lever_is_asked_nothing_about_it():
    assert not makes_sense(catalogue()["single-f"], "thumb")
    assert makes_sense(catalogue()["double-full"], "thumb")
    for key in ("second_set", "shared_row"):
        assert not makes_sense(catalogue()["single-bb-f-extension"], key)
        assert makes_sense(catalogue()["double-full"], key)
    assert not makes_sense(catalogue()["natural-horn"], "mechanism")
