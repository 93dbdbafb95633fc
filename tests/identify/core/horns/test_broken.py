"""What can be wrong with a horn: what is read of it, which horns can be so, and what it does to the air."""

import re

import pytest

from identify.core import DATA
from identify.core.horns.air import TUBES
from identify.core.horns.broken import KINDS, column_of, read_broken, states_of
from identify.core.horns.builds import main_lever
from identify.core.horns.catalogue import DataError, catalogue

FILE = (DATA / "broken.toml").read_text(encoding="utf-8")


def in_state(code, build="double-full", stand="F", thumb=False):
    """The air column of a horn in a state, its thumb lever up or down."""
    horn = catalogue()[build]
    state = next(state for state in states_of(horn) if state.code == code)
    lever = main_lever(horn)
    return column_of(horn, horn.stand(stand), state, (lever,) if thumb and lever else ())


@pytest.mark.parametrize(
    ("build", "can", "cannot"),
    [
        ("double-full", ["thumb-off", "valve-down-3", "side-low-F12"], ["thumb-reversed", "valve-down-4"]),
        ("single-bb-stopping", ["thumb-off", "thumb-reversed"], ["side-low-Bb9"]),
        ("single-f", ["valve-dead-1", "low", "bell", "blocked"], ["thumb-off", "thumb-reversed"]),
        ("piston-single-f", ["valve-down-1"], ["valve-reversed-1"]),
        ("marching-horn-bb", ["valve-down-1"], ["valve-reversed-1"]),
        ("natural-horn", ["blocked"], ["valve-dead-1", "slides-crossed", "low"]),
    ],
)
def test_a_horn_can_be_wrong_only_where_it_has_the_part(build, can, cannot):
    codes = [state.code for state in states_of(catalogue()[build])]
    assert set(can) <= set(codes)
    assert not set(cannot) & set(codes)
    assert len(codes) == len(set(codes))


def test_a_thumb_lever_whose_string_is_off_changes_nothing():
    assert in_state("thumb-off", thumb=True) == in_state("thumb-off")
    assert in_state("thumb-off").tube == "F12"


def test_a_thumb_valve_strung_the_wrong_way_round_adds_its_slide_while_the_thumb_is_up():
    up = in_state("thumb-reversed", "single-bb-stopping", "Bb")
    down = in_state("thumb-reversed", "single-bb-stopping", "Bb", thumb=True)
    assert (up.lowered, down.lowered) == (1.5, 0)


def test_a_valve_that_is_dead_lowers_nothing_and_the_others_as_before():
    column = in_state("valve-dead-1")
    assert (column.lowered, column.lowers("1")) == (0, 0)
    assert column.lowers("2") == pytest.approx(1)


def test_a_valve_stuck_down_lowers_all_and_a_longer_tube_is_lowered_less_by_the_same_slide():
    column = in_state("valve-down-1")
    assert column.pedal == pytest.approx(TUBES["F12"].pedal - 2)
    assert column.lowers("1") == 0
    assert 0.85 < column.lowers("2") < 0.95


def test_a_valve_strung_the_wrong_way_round_raises_the_pitch_when_it_is_pressed():
    column = in_state("valve-reversed-1")
    assert column.pedal == pytest.approx(TUBES["F12"].pedal - 2)
    assert column.lowers("1") == pytest.approx(-2)
    assert column.meant("1") == -2


def test_slides_in_each_others_place_are_fingered_the_other_way_round():
    column = in_state("slides-crossed")
    assert (column.lowers("1"), column.lowers("2"), column.lowers("3")) == pytest.approx((1, 2, 3))
    assert [valve.name for valve in column.valves] == ["1", "2", "3"]


def test_a_main_slide_too_long_lowers_both_sides_and_a_sides_own_slide_that_one():
    assert [in_state("low", thumb=thumb).lowered for thumb in (False, True)] == pytest.approx([1, 1])
    assert [in_state("side-low-F12", thumb=thumb).lowered for thumb in (False, True)] == pytest.approx([1, 0])


@pytest.mark.parametrize(
    ("code", "clause"),
    [
        ("thumb-off", "its thumb string is off"),
        ("valve-down-2", "its second valve is stuck down"),
        ("side-low-Bb9", "its B♭ side is a semitone too low"),
    ],
)
def test_a_state_is_said_of_the_part(code, clause):
    state = next(state for state in states_of(catalogue()["double-full"]) if state.code == code)
    assert state.clause == clause
    assert state.words == f"whose{clause[3:]}"


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("[low]", "[high]", "high: is nothing that is reckoned with"),
        ("[low]\n", "", "the file: cannot be read"),
        ("rate = 0.01", "rate = 0.051", "thumb-off: rate is 0.051"),
        ("rate = 0.01", "rate = 0", "thumb-off: rate is 0"),
        ("rate = 0.01", "rate = true", "thumb-off: rate is True"),
        ('words = "is off"', 'words = " "', "thumb-off: words, look and origin must be some text"),
        ('words = "is off"', "", "thumb-off: must state rate, words, look and origin"),
    ],
)
def test_nonsense_about_what_is_wrong_is_refused(tmp_path, old, new, reason):
    assert old in FILE
    path = tmp_path / "broken.toml"
    path.write_text(FILE.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(DataError, match=re.escape(f"broken.toml, {reason}")):
        read_broken(path)


def test_what_is_missing_is_refused_and_a_rate_may_be_five_in_a_hundred(tmp_path):
    path = tmp_path / "broken.toml"
    path.write_text(FILE[: FILE.index("[blocked]")], encoding="utf-8")
    with pytest.raises(DataError, match="blocked: is missing"):
        read_broken(path)
    path.write_text(FILE.replace("rate = 0.01", "rate = 0.05", 1), encoding="utf-8")
    assert read_broken(path)["thumb-off"].rate == 0.05
    assert tuple(read_broken(path)) == KINDS


def test_only_what_has_strings_is_strung_the_wrong_way_round():
    for build in catalogue().every_form():
        reversed_ = {state.kind for state in states_of(build)} & {"thumb-reversed", "valve-reversed"}
        assert not reversed_ or "string" in build.linkage
        assert bool(build.valves and "string" in build.linkage) == ("valve-reversed" in reversed_)
