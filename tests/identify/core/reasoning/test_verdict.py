import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core import DATA
from identify.core.horns.catalogue import read_catalogue
from identify.core.reasoning.evidence import CHECKS, DECIDING, USUAL_ORDER, Heard, Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.scales import Scales, scales
from identify.core.reasoning.verdict import assess, usual_next

EVERY = scales().hypotheses
answers = st.fixed_dictionaries({}, optional={key: st.sampled_from(check.answers) for key, check in CHECKS.items()})
someone = st.sampled_from(EVERY)

FULL_DOUBLE = {
    "valves": "4",
    "slide_sets": "2",
    "test_note": "1",
    "test_note_thumb": "0",
    "hand": "left",
    "mechanism": "rotary",
    "bell": "back",
    "wrap": "standard",
    "step_down": "3",
    "second_set": "longer",
    "thumb": "raises",
    "shared_row": "one-side",
    "length": "38-42",
}


def looked_twice(seen):
    """The verdict after every second look that is asked for, each with the answer of the first."""
    verdict = assess(seen)
    while verdict.confirm and not verdict.settled:
        seen = seen.looked_again(verdict.confirm[0], seen.answers[verdict.confirm[0]])
        verdict = assess(seen)
    return verdict


def chance_of(verdict, key):
    return next(one.probability for one in verdict.candidates if one.key == key)


@given(answers)
def test_chances_add_up_to_one_and_come_in_order(seen):
    chances = [one.probability for one in assess(Observations(seen)).candidates]
    assert sum(chances) == pytest.approx(1)
    # To twelve places: what differs by less was only added up in another order.
    assert [round(one, 12) for one in chances] == sorted((round(one, 12) for one in chances), reverse=True)
    assert len(chances) == len(scales().groups)
    assert min(chances) > 0


@given(answers, st.randoms(use_true_random=False))
def test_the_order_of_observations_does_not_matter(seen, dice):
    shuffled = list(seen.items())
    dice.shuffle(shuffled)
    one, other = assess(Observations(seen)), assess(Observations(dict(shuffled)))
    assert [c.key for c in one.candidates] == [c.key for c in other.candidates]
    assert [c.probability for c in one.candidates] == [c.probability for c in other.candidates]
    assert (one.settled, one.doubt, one.next_check) == (other.settled, other.doubt, other.next_check)


@given(someone, st.sets(st.sampled_from(sorted(CHECKS))), st.sampled_from(sorted(CHECKS)))
def test_a_right_answer_more_never_rules_the_true_build_out(one, keys, more):
    right = usual_answers(one)
    for chosen in (keys, keys | {more}):
        verdict = assess(Observations({key: right[key] for key in chosen if key in right}))
        true = next(candidate for candidate in verdict.candidates if candidate.key == one.key)
        assert not verdict.clash
        assert not (verdict.settled and verdict.leading.key != one.key)
        assert true.probability > 0


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_an_error_free_walk_of_every_build_settles_it(one):
    seen = Observations(usual_answers(one))
    assert assess(seen).settled or assess(seen).likely
    verdict = looked_twice(seen)
    assert verdict.leading.key == one.key
    assert verdict.settled
    assert verdict.doubt == ()


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_the_checks_that_apply_to_a_horn_are_enough_to_settle_it(one):
    right = usual_answers(one)
    # That a French horn's fourth valve lies under no thumb, the thumb tells.
    levers = one.build.thumb_levers or (one.build.valve_count > 3 and one.build.is_french_horn)
    senseless = [] if levers else ["thumb", "test_note_thumb"]
    senseless += [] if one.build.slide_sets > 1 else ["second_set", "shared_row"]
    verdict = looked_twice(Observations({key: answer for key, answer in right.items() if key not in senseless}))
    assert verdict.settled
    assert verdict.leading.key == one.key


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_following_the_proposed_checks_without_error_ends_with_the_truth(one):
    right, seen, made = usual_answers(one), Observations(), 0
    verdict = assess(seen)
    while verdict.next_check:
        made += 1
        assert made <= len(CHECKS)
        seen = seen.with_answer(
            verdict.next_check, right.get(verdict.next_check, CHECKS[verdict.next_check].answers[0])
        )
        verdict = assess(seen)
    verdict = looked_twice(seen)
    assert verdict.settled
    assert verdict.leading.key == one.key


@given(answers)
def test_settled_is_never_said_while_something_clashes(seen):
    verdict = assess(Observations(seen))
    if verdict.settled:
        assert verdict.leading.fits
        assert verdict.leading.probability >= 0.98
        assert len(verdict.observations.answers) > 1
        assert not verdict.clash
        assert verdict.doubt == ()
        assert verdict.next_check is None


@given(answers)
def test_without_its_doubts_something_fits(seen):
    verdict = assess(Observations(seen))
    for doubt in verdict.doubts:
        assert doubt.then[0].probability > 0
        without = assess(verdict.observations.without(doubt.keys))
        assert without.doubts == ()
        assert any(one.fits for one in without.candidates)


@given(answers)
def test_no_smaller_set_of_doubts_would_do(seen):
    verdict = assess(Observations(seen))
    if verdict.doubts:
        size = len(verdict.doubts[0].keys)
        assert all(len(doubt.keys) == size for doubt in verdict.doubts)
        assert all(len(one.against) >= size for one in verdict.candidates)


@given(answers)
def test_a_check_that_was_made_is_not_proposed_again(seen):
    assert assess(Observations(seen)).next_check not in seen


def test_nothing_observed_gives_what_is_common_and_says_so():
    for nothing in (Observations(), Observations({}, frozenset(CHECKS))):
        verdict = assess(nothing)
        assert verdict.nothing_observed
        assert not verdict.settled
        assert all(one.probability == pytest.approx(one.before) for one in verdict.candidates)
        assert (verdict.doubt, verdict.confirm) == ((), ())
    assert assess(Observations()).next_check == "valves"
    assert assess(Observations({}, frozenset(CHECKS))).next_check is None


def test_who_cannot_tell_the_test_note_is_asked_for_nothing_that_needs_it():
    seen = Observations({"valves": "4", "slide_sets": "2"}, frozenset({"test_note"}))
    asked = set()
    while (key := assess(seen).next_check) is not None:
        asked.add(key)
        seen = seen.with_answer(key, FULL_DOUBLE[key])
    assert asked
    assert not asked & {"test_note_thumb", "step_down"}


def test_the_four_checks_come_in_their_usual_order():
    seen, asked = Observations(), []
    while key := usual_next(assess(seen)):
        asked.append(key)
        seen = seen.with_answer(key, FULL_DOUBLE[key])
    assert asked[:2] == ["valves", "slide_sets"]
    usual = [key for key in asked if key in USUAL_ORDER]
    assert usual == sorted(usual, key=USUAL_ORDER.index)
    assert "second_set" in asked


def test_deciding_checks_are_left_out_where_they_decide_nothing():
    single = usual_answers(next(one for one in EVERY if one.key == ("single-bb", "Bb")))
    seen, asked = Observations(), []
    verdict = assess(seen)
    while verdict.next_check:
        asked.append(verdict.next_check)
        seen = seen.with_answer(verdict.next_check, single[verdict.next_check])
        verdict = assess(seen)
    assert not {"second_set", "thumb", "test_note_thumb"} & set(asked)
    assert len(asked) < len(CHECKS) - len(DECIDING)


@pytest.mark.parametrize(("valves", "sets"), [("4", "3"), ("3", "2")])
def test_impossible_counts_ask_to_look_again_at_both(valves, sets):
    verdict = assess(Observations({"valves": valves, "slide_sets": sets}))
    assert verdict.impossible_counts
    assert not verdict.settled
    assert set(verdict.doubt) == {"valves", "slide_sets"}


def test_one_wrong_answer_among_right_ones_is_the_one_that_is_doubted():
    verdict = assess(Observations({**FULL_DOUBLE, "hand": "right"}))
    assert verdict.doubt == ("hand",)
    assert verdict.doubts[0].then[0].key == ("double-full", "F")
    assert verdict.doubts[0].then_settled
    assert not verdict.settled


def test_an_overlooked_thumb_lever_is_found_out():
    verdict = assess(Observations({**FULL_DOUBLE, "valves": "3"}))
    assert verdict.leading.key == ("double-full", "F")
    assert verdict.doubt[0] == "valves"


def test_what_was_looked_at_twice_is_not_doubted_again_and_weighs_more():
    clash = Observations({**FULL_DOUBLE, "hand": "right"})
    again = clash.looked_again("hand", "right")
    assert "hand" not in assess(again).doubt
    assert assess(again).clash
    settled = assess(Observations(FULL_DOUBLE))
    surer = assess(Observations(FULL_DOUBLE).looked_again("valves", "4"))
    assert settled.confirm == ("valves",)
    assert surer.leading.probability > settled.leading.probability
    assert "valves" not in surer.confirm


def test_3_and_12_are_the_same_fingering():
    assert assess(Observations({"test_note": "3"})).candidates == assess(Observations({"test_note": "12"})).candidates


def test_the_stand_of_a_double_is_told_by_the_test_note_and_never_by_the_build():
    first = {"valves": "4", "slide_sets": "2", "second_set": "longer", "hand": "left", "wrap": "standard"}
    for note, thumb, stand in (("1", "0", "F"), ("0", "1", "Bb")):
        verdict = assess(Observations({**first, "test_note": note, "test_note_thumb": thumb}))
        assert verdict.leading.key == ("double-full", stand)


def test_a_natural_horn_stands_in_nothing_of_its_own():
    seen = {"valves": "0", "test_note": "none", "bell": "back", "wrap": "standard", "crook": "yes"}
    verdict = looked_twice(Observations(seen))
    assert verdict.settled
    assert (verdict.leading.build.code, verdict.leading.stands_in) == ("natural-horn", None)


def test_a_recording_counts_with_the_thumb_up_and_down():
    heard = Heard(up={"F12": 1.0, "Bb9": 0.01}, down={"Bb9": 1.0, "F6": 0.001})
    verdict = assess(Observations({"valves": "4", "slide_sets": "2"}, heard=heard))
    assert verdict.leading.key == ("double-full", "F")
    assert not verdict.nothing_observed
    silent = assess(Observations({"valves": "4", "slide_sets": "2"}))
    assert chance_of(verdict, ("double-full", "F")) > chance_of(silent, ("double-full", "F"))
    assert chance_of(verdict, ("double-full", "Bb")) < chance_of(silent, ("double-full", "Bb"))


def test_builds_that_differ_only_in_name_are_told_as_twins(tmp_path):
    text = (DATA / "builds.toml").read_text(encoding="utf-8")
    entry = text[text.index("[[build]]") : text.index("[[build]]", text.index("[[build]]") + 1)]
    twin = entry.replace('code = "single-f"', 'code = "school-f"')
    path = tmp_path / "builds.toml"
    path.write_text(text + "\n" + twin, encoding="utf-8")
    on = Scales(read_catalogue(path))
    assert on.indistinct == {frozenset({("single-f", "F"), ("school-f", "F")})}
    one = next(one for one in on.hypotheses if one.build.code == "single-f")
    verdict = assess(Observations(usual_answers(one)), on=on)
    assert not verdict.settled
    assert verdict.next_check is None
    assert {verdict.leading.key, verdict.twins[0].key} == {("single-f", "F"), ("school-f", "F")}


def test_no_two_builds_of_the_catalogue_are_indistinguishable():
    assert scales().indistinct == frozenset()


def test_the_verdict_is_the_same_every_time():
    seen = Observations({"valves": "4", "slide_sets": "1", "thumb": "lowers-fourth"})
    dice = random.Random(3)
    verdicts = [assess(seen) for _time in range(dice.randint(2, 4))]
    assert all(verdict == verdicts[0] for verdict in verdicts)


def test_a_check_passed_over_that_would_decide_is_asked_for_once_more():
    right = usual_answers(next(one for one in EVERY if one.key == ("single-f", "F")))
    seen = Observations({key: right[key] for key in right if key != "wrap"}, frozenset({"wrap"}))
    verdict = assess(seen)
    assert not verdict.settled
    assert not verdict.clash
    assert (verdict.next_check, verdict.doubt, verdict.confirm) == (None, ("wrap",), ("wrap",))
    assert looked_twice(seen.with_answer("wrap", "standard")).settled


_UNMEASURED = frozenset({"shared_row", "length", "width"})


@pytest.mark.parametrize("counted", [{}, {"slide_sets": "2", "second_set": "longer", "test_note_thumb": "0"}])
def test_a_double_in_a_compact_wrap_is_a_compact_double_and_no_clash(counted):
    verdict = assess(Observations({"valves": "4", "test_note": "1", "wrap": "compact"} | counted, _UNMEASURED))
    assert verdict.fits
    assert verdict.leading.key == ("compact-double-full", "F")


def test_a_tight_wrap_alone_still_says_compact_single():
    assert assess(Observations({"wrap": "compact"})).leading.build.code == "compact-f"
