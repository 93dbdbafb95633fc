"""The tube from open notes, and a record's claim against them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from identify.core.hearing import open_notes
from identify.core.hearing.claim import check_claim
from identify.core.hearing.notes import Played
from identify.core.hearing.open_notes import EQUAL, OPEN_TUBES, SCHOOL_MIX, find_tube, tube_likelihoods
from identify.core.horns.air import TUBES
from identify.core.horns.pitch import midi_to_hz, parse_note


def series(tube, first, count=4, cents=0.0, lips=()):
    pedal = TUBES[tube].pedal_hz
    lips = [*lips, *[0.0] * count]
    return [
        Played(pedal * partial * 2 ** ((cents + lip) / 1200))
        for partial, lip in zip(range(first, first + count), lips, strict=False)
    ]


def named(*names):
    return [Played(parse_note(name).hz) for name in names]


@pytest.mark.parametrize("tube", [tube for tube in OPEN_TUBES if tube != "A9"])
@pytest.mark.parametrize("first", [2, 3, 4])
def test_four_neighbouring_open_notes_find_their_tube(tube, first):
    found = find_tube(series(tube, first))
    assert found.tube == tube
    assert found.partials == tuple(range(first, first + 4))
    assert found.deciding is None


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["F12", "Bb9", "F6", "Eb6", "Bb4"]),
    st.integers(2, 4),
    st.floats(-40, 24),  # A4 from 430 to 446
    st.lists(st.floats(-30, 30), min_size=4, max_size=4),
)
def test_a_horn_tuned_flat_or_sharp_and_lipped_is_never_taken_for_another(tube, first, cents, lips):
    found = find_tube(series(tube, first, cents=cents, lips=lips))
    assert found.tube in (tube, None)
    assert found.candidates[0][0] == tube


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(["F12", "Bb9", "F6"]), st.integers(2, 4), st.floats(0.3, 3))
def test_an_old_high_pitch_horn_is_found_and_said_to_be_sharp(tube, first, lip):
    found = find_tube(series(tube, first, cents=48.1, lips=[lip, -lip, lip, -lip]))  # A4 = 452.4 Hz
    assert found.tube == tube
    assert found.tuning_cents == pytest.approx(48, abs=6)


@pytest.mark.parametrize("notes", [["F3"], ["Bb3"], []])
def test_one_note_never_finds_a_tube(notes):
    found = find_tube(named(*notes))
    assert found.tube is None
    assert not found.settled
    assert found.candidates == ()
    assert tube_likelihoods(named(*notes)) == {}


# Each pair lies among the partials of every tube named. Computed from the harmonic series.
@pytest.mark.parametrize(
    ("notes", "tubes"),
    [
        (("F3", "C4"), {"F12", "F6"}),
        (("C4", "F4"), {"F12", "F6"}),
        (("F4", "A4"), {"F12", "F6"}),
        (("F3", "F4"), {"F12", "F6", "Bb9"}),
        (("Bb3", "F4"), {"Bb9", "Bb4"}),
    ],
)
def test_a_pair_that_fits_more_than_one_tube_leaves_them_all_open(notes, tubes):
    found = find_tube(named(*notes), prior=EQUAL, neighbours=False)
    assert not found.settled
    assert tubes <= set(found.remaining)


@pytest.mark.parametrize(
    ("notes", "note_that_decides"), [(("F3", "C4"), "A3"), (("C4", "F4"), "A3"), (("Bb3", "F4"), "D4")]
)
def test_the_note_that_would_decide_belongs_to_one_of_the_tubes_only(notes, note_that_decides):
    found = find_tube(named(*notes), neighbours=False)
    assert not found.settled
    assert found.deciding is not None
    decided = find_tube(sorted([*named(*notes), *named(note_that_decides)], key=lambda note: note.hz))
    assert decided.candidates[0][1] > found.candidates[0][1]
    on, off = found.deciding.speaks_on, found.deciding.not_on
    partials = midi_to_hz(found.deciding.midi) / np.array([TUBES[on].pedal_hz, TUBES[off].pedal_hz])
    assert abs(1200 * np.log2(partials[0] / round(partials[0]))) < 20
    assert abs(1200 * np.log2(partials[1] / max(1, round(partials[1])))) > 60


def test_one_wrong_note_among_five_is_named_as_not_belonging():
    notes = series("Bb9", 2, count=5)
    notes[2] = Played(notes[2].hz * 2 ** (2.6 / 12))
    found = find_tube(notes)
    assert found.candidates[0][0] == "Bb9"
    assert found.partials[2] == 0


def test_more_is_asked_where_a_note_was_skipped(monkeypatch):
    skipped = [note for number, note in enumerate(series("F12", 3, 5)) if number != 2]  # partials 3, 4, 6, 7
    assert find_tube(skipped).tube == "F12"
    monkeypatch.setattr(open_notes, "SURE_WITH_GAPS", 1.1)

    assert find_tube(skipped).tube is None
    assert find_tube(series("F12", 3)).tube == "F12"


def test_notes_of_no_tube_settle_nothing():
    assert not find_tube([Played(hz) for hz in (101.0, 141.0, 168.0, 333.0)]).settled


def test_valves_that_were_down_are_taken_into_account():
    # First valve on the F tube: everything a tone lower, so the B♭ series of 8 feet more tubing.
    lowered = [Played(midi_to_hz(29 - 2 + 12 * np.log2(k)), fingering="1") for k in (3, 4, 5, 6)]
    assert find_tube(lowered).tube == "F12"


def test_notes_heard_with_little_confidence_weigh_less():
    clear, faint = series("F12", 3), [Played(note.hz, 0.1) for note in series("F12", 3)]
    assert find_tube(clear).candidates[0][1] > find_tube(faint).candidates[0][1]


def test_likelihoods_are_of_the_best_and_carry_no_share_of_how_common_a_tube_is():
    weights = tube_likelihoods(series("Eb13", 3))
    assert weights["Eb13"] == 1.0
    assert set(weights) == set(TUBES)
    assert all(0 <= weight <= 1 for weight in weights.values())
    assert weights["Bb9"] < 0.01


@pytest.mark.parametrize(("tube", "a_fourth_up"), [("F12", "Bb9"), ("Bb9", "Eb6"), ("F6", "Bb4")])
@pytest.mark.parametrize("first", [2, 3, 4])
def test_notes_a_fourth_higher_find_the_tube_a_fourth_higher(tube, a_fourth_up, first):
    higher = [Played(note.hz * 2 ** (5 / 12)) for note in series(tube, first)]
    assert find_tube(higher).tube == a_fourth_up


@pytest.mark.parametrize("hz", [0.0, -1.0, float("nan"), float("inf")])
def test_a_frequency_that_is_none_is_refused(hz):
    with pytest.raises(ValueError, match="positive"):
        find_tube([Played(233.0), Played(hz)])


def test_a_school_s_shares_and_equal_shares_cover_the_same_tubes():
    assert set(SCHOOL_MIX) == set(EQUAL) == set(OPEN_TUBES)
    assert sum(SCHOOL_MIX.values()) == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("tube", ["F12", "Bb9", "F6", "Eb6"])
def test_a_true_claim_fits(tube):
    checked = check_claim(series(tube, 3, cents=-12), tube)
    assert checked.verdict == "fits"
    assert checked.better is None


def test_a_false_claim_does_not_fit_and_the_better_tube_is_named():
    checked = check_claim(series("Bb9", 3), "F12")
    assert (checked.verdict, checked.better) == ("does-not-fit", "Bb9")
    assert "12-foot F" in checked.sentence
    assert "9-foot B♭" in checked.sentence


def test_a_claim_is_not_judged_from_one_note():
    assert check_claim(named("F3"), "Bb9").verdict == "cannot-tell"


def test_an_unknown_tube_cannot_be_claimed():
    with pytest.raises(KeyError):
        check_claim(series("F12", 3), "H8")


def test_notes_that_all_lie_far_off_settle_nothing_and_the_stopping_valve_is_named():
    found = find_tube(series("Bb9", 4, cents=-82))
    assert not found.settled
    assert "every note belongs" not in found.sentence
    assert "stopping valve" in found.sentence


@pytest.mark.parametrize(("tube", "cents"), [("F12", -82), ("Bb9", -82), ("F6", 82)])
def test_no_claim_fits_notes_that_all_lie_far_off_and_how_far_is_said(tube, cents):
    checked = check_claim(series(tube, 4, cents=cents), tube)
    assert checked.verdict == "cannot-tell"
    assert f"cents too {'low' if cents < 0 else 'high'}" in checked.sentence


@pytest.mark.parametrize("cents", [-56, 56])
def test_up_to_sixty_cents_off_a_true_claim_still_fits(cents):
    assert check_claim(series("Bb9", 4, cents=cents), "Bb9").verdict == "fits"


@pytest.mark.parametrize(("cents", "settled"), [(-70, True), (-74, False), (74, True)])
def test_up_to_seventy_cents_off_a_tube_is_settled_and_further_where_another_lies_nearer_it_is_not(cents, settled):
    assert find_tube(series("Bb9", 3, cents=cents)).settled is settled


@pytest.mark.parametrize(
    ("tube", "cents", "also"),
    [
        ("Bb9", -54, "stopping valve"),
        ("F12", -54, "12¾-foot E tube lies"),
        ("F6", 54, "slide or crook"),
    ],
)
def test_a_tube_whose_notes_all_lie_over_fifty_cents_off_is_told_with_how_far_and_what_it_may_be(tube, cents, also):
    notes = series(tube, 3, cents=cents)
    found, checked = find_tube(notes), check_claim(notes, tube)

    assert found.settled
    assert f"but all lie 54 cents too {'low' if cents < 0 else 'high'}." in found.sentence
    assert also in found.sentence
    assert "every note belongs" not in found.sentence
    assert (checked.verdict, "54 cents too" in checked.sentence) == ("fits", True)


@pytest.mark.parametrize("cents", [-50, 50])
def test_up_to_fifty_cents_off_every_note_belongs_to_a_tube(cents):
    notes = series("Bb9", 3, cents=cents)

    assert find_tube(notes).sentence.endswith("every note belongs to it.")
    assert check_claim(notes, "Bb9").sentence.endswith("as the record says.")


@pytest.mark.parametrize("tube", OPEN_TUBES)
@pytest.mark.parametrize("cents", [-82, 82])
def test_notes_that_all_lie_eighty_two_cents_off_never_all_belong_to_a_tube_however_they_are_lipped(tube, cents):
    lips = np.random.default_rng(82)
    for first in (2, 3, 4):
        lipped = [Played(note.hz * 2 ** (lips.normal(0, 8) / 1200)) for note in series(tube, first, cents=cents)]
        found = find_tube(lipped)

        assert found.candidates[0][0] != tube or "every note belongs" not in found.sentence


@pytest.mark.parametrize(("first", "settled"), [(0.76, True), (0.74, False)])
def test_four_neighbours_settle_the_tube_that_is_three_times_as_likely_as_all_others(monkeypatch, first, settled):
    likely = {"F12": first, "F6": 1 - first}
    monkeypatch.setattr(open_notes, "tube_likelihoods", lambda played, **_: likely)

    assert find_tube(series("F12", 3), prior={"F12": 0.5, "F6": 0.5}).settled is settled


@pytest.mark.parametrize(("first", "settled"), [(0.81, True), (0.79, False)])
def test_where_a_note_was_skipped_the_tube_must_be_four_times_as_likely(monkeypatch, first, settled):
    skipped = [note for number, note in enumerate(series("F12", 3, 5)) if number != 2]
    monkeypatch.setattr(open_notes, "tube_likelihoods", lambda played, **_: {"F12": first, "F6": 1 - first})

    assert find_tube(skipped, prior={"F12": 0.5, "F6": 0.5}).settled is settled


def test_the_notes_of_a_b_flat_side_with_its_stopping_valve_on_name_the_valve():
    found = find_tube(named("A3", "C#4", "E4", "A4"))

    assert not found.settled
    assert "every note belongs" not in found.sentence
    assert "stopping valve" in found.sentence
