"""Every drawing of a horn is made from one description of where its parts lie, to one scale."""

from __future__ import annotations

from itertools import pairwise
from math import dist

import pytest

from identify.core.drawing.hand import hand
from identify.core.drawing.lying import ROTOR, SLIDE, drawn_tube, lying, tube_long, turns
from identify.core.drawing.picture import extent, segments
from identify.core.drawing.whole import BACK, FRONT, described, whole
from identify.core.fingering.charts import chart
from identify.core.fingering.teaching import Teaching
from identify.core.fingering.words import letters, lever_letters
from identify.core.horns.air import TUBES, valve_fraction
from identify.core.horns.catalogue import catalogue

EVERY = [*catalogue().every_form()]
NAMES = [f"{build.code} {build.form}" for build in EVERY]


def long(points) -> float:
    return sum(dist(one, other) for one, other in pairwise(points))


@pytest.mark.parametrize("build", EVERY, ids=NAMES)
def test_the_tube_drawn_is_as_long_as_the_tube_of_the_build(build):
    lies = lying(build)

    drawn = long(lies.coil) + long(lies.lead) + lies.bell.long

    assert drawn == pytest.approx(tube_long(drawn_tube(build)), rel=0.01)


@pytest.mark.parametrize("build", EVERY, ids=NAMES)
def test_nothing_is_drawn_outside_the_picture(build):
    for side in (FRONT, BACK):
        drawn = whole(build, side)
        for mark in drawn.marks:
            for _, *numbers in segments(mark.path) if hasattr(mark, "path") else ():
                assert all(0 <= x <= drawn.width for x in numbers[::2]), mark.part
                assert all(0 <= y <= drawn.height for y in numbers[1::2]), mark.part


@pytest.mark.parametrize("build", catalogue().values(), ids=lambda build: build.code)
def test_no_valve_lies_on_the_tube_that_is_wound_round_it(build):
    lies = lying(build)

    for valve in lies.valves:
        assert min(dist((valve.x, valve.y), point) for point in lies.coil) > ROTOR + 3, valve.name


def test_slides_are_as_long_as_their_loops_in_one_proportion():
    lies = lying(catalogue()["double-full"])
    front = {round(slide.long, 6) for slide in lies.slides if slide.row == 0}
    behind = {round(slide.long, 6) for slide in lies.slides if slide.row == 1}

    assert front == {round(SLIDE * valve_fraction(n) * tube_long("F12"), 6) for n in (1, 2, 3)}
    assert behind == {round(SLIDE * valve_fraction(n) * tube_long("Bb9"), 6) for n in (1, 2, 3)}


def test_the_short_set_of_a_compensating_double_is_a_third_of_the_other():
    lies = lying(catalogue()["double-compensating"])
    full, short = (sum(slide.long for slide in lies.slides if slide.row == row) for row in (0, 1))

    assert short / full == pytest.approx(TUBES["F12"].length_over(TUBES["Bb9"]) - 1)


@pytest.mark.parametrize("build", EVERY, ids=NAMES)
def test_the_back_is_the_mirror_of_the_front(build):
    front, back = whole(build, FRONT), whole(build, BACK)

    for one, other in zip(front.marks, back.marks, strict=True):
        if hasattr(one, "path"):
            (left, right), (other_left, other_right) = extent(one.path), extent(other.path)
            assert (front.width - right, front.width - left) == pytest.approx((other_left, other_right), abs=0.2)
        else:
            assert (one.said, front.width - one.x) == (other.said, pytest.approx(other.x))


def test_the_thumb_lies_beside_the_first_valve_and_right_hands_are_the_mirror_of_left_ones():
    left = [mark.said for mark in sorted(words(catalogue()["double-full"]), key=lambda mark: mark.x)]
    right = [mark.said for mark in sorted(words(catalogue()["mellophone-f"]), key=lambda mark: mark.x)]

    assert left == ["3", "2", "1", "T"]
    assert right == ["1", "2", "3"]


@pytest.mark.parametrize("build", EVERY, ids=NAMES)
def test_a_lever_has_the_same_letter_on_its_drawing_as_in_its_charts(build):
    drawn = [mark.said for mark in words(build) if not mark.said.isdigit()]

    assert drawn == [*letters(build).values()]
    assert len(set(drawn)) == len(drawn)
    for stand in build.stands:
        used = chart(build, stand, Teaching(layers=frozenset({"stopped"})))
        assert lever_letters(used).items() <= letters(build).items()


def test_a_triple_has_two_letters_for_its_thumb_on_horn_and_hand():
    triple = catalogue()["triple-full"]

    assert [mark.said for mark in words(triple)] == ["3", "2", "1", "T", "H"]
    assert "T and H thumb" in hand(triple).description


def words(build):
    return [mark for mark in whole(build).marks if hasattr(mark, "said")]


def test_the_bell_of_a_mellophonium_lies_on_the_other_side_than_a_mellophone_s():
    bells = {code: lying(catalogue()[code]).bell.to[0] for code in ("mellophone-f", "mellophonium-f")}

    assert bells["mellophone-f"] > 0 > bells["mellophonium-f"]
    assert "a bell that points forward" in described(catalogue()["mellophonium-f"])


def test_the_slide_of_an_extra_valve_is_drawn_where_it_is_worked_by_thumb_or_finger():
    lies = lying(catalogue()["single-bb-stopping-f-extension"].forms[1])
    at = {valve.name: valve.x for valve in lies.valves}

    assert [slide.x for slide in lies.slides][-2:] == [at["S"], at["4"]]


def test_horns_without_valves_are_wound_as_often_as_their_tube_is_long():
    """A hunting horn in D has 3½ turns (“Instrument”, trompefreunde.de)."""
    wound = {
        code: turns(catalogue()[code]) for code in ("hunting-horn-d", "hunting-horn-bb", "post-horn-bb", "bugle-bb")
    }

    assert wound == {"hunting-horn-d": 4, "hunting-horn-bb": 2, "post-horn-bb": 2, "bugle-bb": 1}
    assert "about 1 turn of tube" in described(catalogue()["bugle-bb"])
    assert "about 2 turns of tube" in described(catalogue()["post-horn-bb"])


def test_a_drawing_says_what_it_shows():
    assert described(catalogue()["single-bb-stopping"]) == (
        "Wound in a wide round hoop, about 2 turns of tube, a wide bell below, 4 rotary valves, 1 row of slides, "
        "played with the left hand, 1 thumb lever beside the first valve."
    )
