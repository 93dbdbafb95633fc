"""What a novice may hit where the test note is asked for."""

import pytest

from identify.core.horns.builds import column_at_rest, column_with
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import name_of, written
from identify.core.reasoning.evidence import NONE
from identify.core.reasoning.expect import IN_TUNE_ENOUGH
from identify.core.reasoning.missed import how_test_note_sounds, missed, right


def at_rest(code, stand=""):
    build = catalogue()[code]
    return column_at_rest(build, build.stand(stand) if stand else build.stands[0])


def written_notes(column):
    """By fingering, as written for a part in F."""
    return {
        fingering: [written(name_of(round(58 + one.cents / 100))).display for one in beside]
        for fingering, beside in missed(column)
    }


def test_open_on_an_f_horn_a_novice_hits_e4_or_g4():
    assert right(at_rest("single-f")).fingering == "1"
    assert written_notes(at_rest("single-f")) == {"1": ["D4", "G♯4"], "0": ["E4", "G4"]}


def test_with_the_first_valve_on_a_b_flat_horn_a_novice_hits_its_neighbours():
    assert right(at_rest("single-bb")).fingering == "0"
    assert written_notes(at_rest("single-bb")) == {"0": ["C4", "A4"], "1": ["E♭4", "G4"]}


def test_where_no_fingering_sounds_it_the_open_notes_beside_it_are_told():
    column = at_rest("natural-horn", "D")

    assert right(column) is None
    assert [fingering for fingering, _ in missed(column)] == ["0"]


@pytest.mark.parametrize(
    ("code", "stand", "levers", "said"),
    [
        ("natural-horn", "C", [], "Open, the 16-foot C tube comes near B♭3, as its 7th partial, 31 cents too low."),
        (
            "single-bb-stopping", "Bb", ["stopping"],
            "With the first and second valves (or the third) the 9-foot B♭ tube lowered a minor third comes near B♭3, "
            "as its 5th partial, 31 cents too low.",
        ),
        ("natural-horn", "D", [], "No open note of the 14-foot D tube is B♭3."),
    ],
)  # fmt: skip
def test_what_only_comes_near_the_test_note_is_not_said_to_sound_it(code, stand, levers, said):
    build = catalogue()[code]
    pressed = tuple(lever for lever in build.levers if lever.name in levers)
    column = column_with(build, build.stand(stand), pressed)

    assert right(column) is None
    assert how_test_note_sounds(column, NONE) == said


@pytest.mark.parametrize("code", [*catalogue()])
def test_what_is_missed_lies_right_below_and_above_and_is_never_the_note_itself(code):
    build = catalogue()[code]
    for stand in build.stands:
        column = column_at_rest(build, stand)
        for fingering, beside in missed(column):
            cents = [one.cents for one in beside]
            assert 1 <= len(cents) <= 2
            assert min(abs(each) for each in cents) > IN_TUNE_ENOUGH
            assert len(cents) == 1 or cents[0] < 0 < cents[1]
            # Nothing of that fingering lies between them, but the note itself.
            for partial in range(beside[0].partial + 1, beside[-1].partial):
                assert abs(100 * (column.pitch(fingering, partial) - 58)) <= IN_TUNE_ENOUGH
