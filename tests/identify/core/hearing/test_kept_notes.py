"""Notes as numbers: through text and back, and what they weigh."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.hearing.kept_notes import DOWN, FIELDS, STEP, TEST, UP, KeptNotes, read_notes
from identify.core.hearing.notes import Played
from identify.core.horns.pitch import midi_to_hz
from identify.core.reasoning.evidence import Heard, Observations, read_observations
from identify.core.reasoning.verdict import assess

notes = st.builds(
    Played,
    st.floats(30, 2000).map(lambda hz: round(hz, 1)),
    st.integers(1, 100).map(lambda share: share / 100),
)


def open_notes(pedal_midi, partials, cents=0, confidence=0.98):
    """The text of open notes: partial k sounds at k times the pedal, by the harmonic series."""
    pedal = midi_to_hz(pedal_midi + cents / 100)
    return ",".join(f"{pedal * k:.1f}~{confidence}" for k in partials)


F_UP = open_notes(29, (3, 4, 5, 6))  # 12-foot F: pedal F1, by the harmonic series
BB_UP = open_notes(34, (2, 3, 4, 5))  # 9-foot B♭: pedal B♭1


@given(st.dictionaries(st.sampled_from(list(FIELDS)), st.lists(notes, min_size=1, max_size=8).map(tuple)))
def test_what_is_written_is_read_back_the_same(by_field):
    kept = KeptNotes({})
    for field, played in by_field.items():
        kept = kept.having(field, played)

    assert read_notes(kept.texts()) == (kept, {})


@given(st.dictionaries(st.sampled_from(list(FIELDS)), st.text(max_size=60)))
def test_any_text_is_read_without_fail(given_text):
    kept, problems = read_notes(given_text)

    assert set(problems) <= set(given_text)
    assert all(20 <= note.hz <= 3000 and 0 < note.confidence <= 1 for field in FIELDS for note in kept[field])


@pytest.mark.parametrize(
    "text", ["x", "174.6", "174.6~2", "174.6~0", "nan~1", "1e3~1", "174.6~0.9,", "5~0.9", "9999~1"]
)
def test_what_is_no_note_is_left_out_and_said(text):
    kept, problems = read_notes({UP: text})

    assert len(kept[UP]) == (1 if text == "174.6~0.9," else 0)
    assert "no note" in problems[UP]


def test_more_notes_than_anybody_plays_are_not_kept():
    kept, problems = read_notes({UP: ",".join(f"{100 + 20 * k}~1" for k in range(40)), STEP: "233~1,174~1,150~1"})

    assert (len(kept[UP]), len(kept[STEP])) == (8, 2)
    assert set(problems) == {UP, STEP}


def test_open_notes_stand_upwards_in_whatever_order_they_came():
    assert [note.hz for note in read_notes({UP: "220~1,130.8~1,174.6~1"})[0][UP]] == [130.8, 174.6, 220.0]


def test_open_notes_weigh_for_their_tube_and_one_note_weighs_nothing():
    four, one = read_notes({UP: F_UP})[0], read_notes({UP: "174.6~1"})[0]

    assert max(four.up, key=four.up.get) == "F12"
    assert four.up["Bb9"] < 0.01
    assert one.up == {}


def test_notes_heard_less_surely_weigh_less():
    sure = read_notes({UP: open_notes(29, (3, 4, 5, 6), confidence=0.98)})[0].up
    unsure = read_notes({UP: open_notes(29, (3, 4, 5, 6), confidence=0.4)})[0].up

    assert sure["Bb9"] < unsure["Bb9"] < 1


def test_a_test_note_alone_is_kept_but_is_no_observation():
    observations, problems = read_observations({TEST: "233.1~0.98"})

    assert problems == {}
    assert observations.heard is not None
    assert observations.nothing_observed
    assert assess(observations).nothing_observed


def test_open_notes_tell_how_a_reversible_horn_stands():
    counted = {"valves": "4", "slide_sets": "2", "hand": "left", "mechanism": "rotary", "bell": "back"}

    in_f = assess(read_observations({**counted, UP: F_UP, DOWN: BB_UP})[0]).leading
    in_bb = assess(read_observations({**counted, UP: BB_UP, DOWN: F_UP})[0]).leading

    assert (in_f.key, in_bb.key) == (("double-full", "F"), ("double-full", "Bb"))


def test_a_horn_without_a_thumb_lever_cannot_sound_another_tube_with_it():
    single, other = (
        assess(read_observations({UP: F_UP, DOWN: down})[0]).candidates for down in (F_UP, open_notes(34, (3, 4, 5, 6)))
    )
    chance = {one.key: one.probability for one in single}, {one.key: one.probability for one in other}

    assert chance[1]["single-f", "F"] < 0.001 < chance[0]["single-f", "F"]


def test_nothing_is_settled_against_what_was_heard():
    seen = {"valves": "3", "slide_sets": "1", "test_note": "1", "hand": "left", "mechanism": "rotary", "step_down": "3"}
    seen |= {"bell": "back", "wrap": "standard", "length": "38-42", "again": "wrap,mechanism"}

    agreeing, silent = assess(read_observations({**seen, UP: F_UP})[0]), assess(read_observations(seen)[0])
    against = assess(read_observations({**seen, UP: BB_UP})[0])

    assert (silent.leading.key, silent.settled) == (("single-f", "F"), True)
    assert (agreeing.settled, agreeing.heard_against) == (True, False)
    assert (against.settled, against.heard_against or against.clash) == (False, True)


def test_weights_without_notes_may_still_be_given_by_hand():
    assert not Observations({}, heard=Heard(up={"F12": 1.0, "Bb9": 0.1})).nothing_observed


def test_a_test_note_that_was_heard_makes_its_answer_surer_the_more_the_surer_the_hearing():
    counted = {"valves": "3", "slide_sets": "1", "hand": "left", "test_note": "1"}

    def chance(**heard):
        return assess(read_observations({**counted, **heard})[0]).leading.probability

    assert chance() < chance(heard_test="233.1~0.5") < chance(heard_test="233.1~0.99")
    assert chance() < chance(heard_test="233.1~0.99") <= chance(again="test_note")
    # F3 is no test note, whatever the address says.
    assert chance(heard_test="174.6~0.99") == chance()


def test_a_step_that_was_heard_makes_the_same_answer_surer_and_no_other():
    seen = {"valves": "3", "slide_sets": "1", "test_note": "1"}
    step = "233.1~0.99,194.2~0.99"  # 6:5, a minor third

    def chances(**more):
        return {one.key: one.probability for one in assess(read_observations({**seen, **more})[0]).candidates}

    assert chances(step_down="3", heard_step=step) != chances(step_down="3")
    assert chances(step_down="5", heard_step=step) == chances(step_down="5")
    # Against a horn whose step would be a fifth: who heard well was careful elsewhere too, or not.
    heard, told = (
        found["single-f", "F"] / found["mellophone-f", "F"]
        for found in (chances(step_down="3", heard_step=step), chances(step_down="3"))
    )
    assert heard > told


@pytest.mark.parametrize(("cents", "surety"), [(-51, 0), (-49, 0.9), (57, 0.9), (59, 0)])
def test_a_kept_test_note_counts_at_either_pitch_a_school_may_tune_to(cents, surety):
    kept = KeptNotes({TEST: (Played(midi_to_hz(58 + cents / 100), 0.9),)})

    assert kept.surety("test_note", "1") == surety
