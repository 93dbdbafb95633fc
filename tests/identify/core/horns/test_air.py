import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.horns.air import (
    FINGERINGS,
    TUBES,
    AirColumn,
    Valve,
    fingerings_of,
    partial_semitones,
    sounding,
    usual_partials,
    usual_way,
    valve_fraction,
    ways,
)

THREE = tuple(Valve(name, semitones, valve_fraction(semitones)) for name, semitones in (("1", 2), ("2", 1), ("3", 3)))
FOUR = (*THREE, Valve("4", 5, valve_fraction(5)))
columns = st.builds(AirColumn, st.sampled_from(sorted(TUBES)), st.sampled_from([(), THREE, FOUR]))


def test_three_valves_give_the_seven_fingerings_and_3_alone_is_12():
    assert fingerings_of(AirColumn("F12", THREE)) == FINGERINGS


def test_an_ascending_third_valve_is_a_fingering_of_its_own_and_is_used_last():
    ascending = (*THREE[:2], Valve("3", -2, valve_fraction(-2)))
    assert fingerings_of(AirColumn("F12", ascending))[:4] == ("0", "2", "1", "12")
    assert "3" in fingerings_of(AirColumn("F12", ascending))
    assert AirColumn("F12", ascending).pitch("3", 2) == pytest.approx(AirColumn("F12", THREE).pitch("0", 2) + 2)


def test_a_column_without_valves_only_plays_its_open_notes():
    natural = AirColumn("F12", ())
    assert fingerings_of(natural) == ("0",)
    assert usual_way(natural, 58) is None
    assert ways(natural, 60) == (sounding(natural, "0", 60),)
    assert sounding(natural, "0", 60).partial == 6


def test_the_first_valve_of_an_f_horn_sounds_the_test_note_from_its_sixth_partial():
    heard = sounding(AirColumn("F12", THREE), "1", 58)
    assert (heard.partial, round(heard.cents, 1)) == (6, 2.0)


def test_the_flat_seventh_partial_with_13_is_offered_beside_the_usual_fingering():
    assert [way.fingering for way in ways(AirColumn("F12", THREE), 58)] == ["1", "13"]


def test_a_stopping_slide_makes_the_same_valve_lower_less():
    short, long = (
        AirColumn("Bb9", THREE),
        AirColumn("Bb9", tuple(Valve(v.name, v.semitones, v.fraction / 1.09) for v in THREE)),
    )
    assert long.lowers("1") < short.lowers("1")
    assert long.sharpness("1") > 0


@given(columns, st.integers(min_value=36, max_value=84))
def test_a_usual_fingering_really_sounds_its_note(column, midi):
    way = usual_way(column, midi)
    if way is not None:
        heard = 100 * (column.pitch(way.fingering, way.partial) - midi)
        assert way.cents == pytest.approx(heard)
        assert abs(heard) <= 65  # 123 is sharp when valves are tuned singly
        assert way.partial >= 2


@given(columns, st.integers(min_value=30, max_value=90))
def test_every_offered_way_lies_within_the_tolerance(column, midi):
    for way in ways(column, midi, within=20):
        assert abs(way.cents) <= 20
        assert 100 * (column.pitch(way.fingering, way.partial) - midi) == pytest.approx(way.cents)


@given(columns)
def test_combinations_of_valves_are_never_flat(column):
    assert all(column.sharpness(fingering) >= -1e-9 for fingering in fingerings_of(column))


def test_partials_are_counted_from_1():
    with pytest.raises(ValueError, match="counted from 1"):
        partial_semitones(0)


def test_the_usual_partials_are_those_whose_fingerings_are_taught():
    long, nine_foot, short = {2, 3, 4, 5, 6, 8, 10, 12, 16}, {2, 3, 4, 6, 8, 9, 12}, {2, 3, 4, 5, 6, 8}
    usual = {"C16": long, "F12": long, "G10": long, "A9": nine_foot, "Bb9": nine_foot, "Eb6": short, "Bb4": short}

    assert {tube: usual_partials(tube) for tube in usual} == usual


def test_a_note_is_looked_for_from_the_second_partial_to_the_sixteenth():
    natural = AirColumn("F12", ())
    assert [sounding(natural, "0", midi).partial for midi in (20, 41, 76, 77, 100)] == [2, 2, 15, 16, 16]
