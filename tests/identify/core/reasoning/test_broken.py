"""Broken horns among the hypotheses: told by their own answers, and a whole horn is never called broken."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.reasoning import explain
from identify.core.reasoning.evidence import CHECKS, Heard, Observations
from identify.core.reasoning.expect import SHOWS, broken, expected, usual_answers
from identify.core.reasoning.mistakes import chances
from identify.core.reasoning.ranking import rank
from identify.core.reasoning.reasons import reason_of, reasons
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess
from tests.identify.core.reasoning.test_verdict import looked_twice

WHOLE = scales().hypotheses
BROKEN = scales().every[len(WHOLE) :]
someone = st.sampled_from(WHOLE)


def of(code, stand, state="", form=""):
    return next(
        one
        for one in scales().every
        if (one.key, one.build.form) == ((code, stand), form) and (one.state.code if one.state else "") == state
    )


def codes(candidate):
    return [state.code for state in candidate.states] if candidate else []


DOUBLE = usual_answers(of("double-full", "F"))
STRING_OFF = DOUBLE | {"test_note_thumb": "1", "thumb": "nothing"}


@pytest.mark.parametrize(
    "code",
    [
        "thumb-off", "valve-dead-1", "valve-down-1", "valve-reversed-1", "valve-reversed-2", "valve-reversed-3", "low",
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_full_double_is_told_by_its_own_answers(code):
    verdict = looked_twice(Observations(usual_answers(of("double-full", "F", code))))
    assert verdict.leading.key == ("double-full", "F")
    assert codes(verdict.leading) == [code]
    assert verdict.leading.fits
    assert not verdict.clash
    assert verdict.leading.as_said > 0.9


@pytest.mark.parametrize("code", ["slides-crossed", "side-low-F12", "bell"])
def test_what_one_answer_alone_would_show_is_named_beside_the_doubt(code):
    verdict = assess(Observations(usual_answers(of("double-full", "F", code))))
    again = assess(verdict.observations.looked_again(verdict.doubt[0], verdict.observations.answers[verdict.doubt[0]]))
    assert again.clash
    assert not again.leading.states
    assert code in codes(again.perhaps)
    assert any(one.startswith("Or every answer is right, and this is a full double") for one in explain.doubts(again))


def test_a_second_look_turns_the_doubt_of_one_answer_into_what_is_wrong():
    told = usual_answers(of("double-full", "F", "side-low-Bb9"))
    seen = Observations({key: told[key] for key in told if key != "step_down"})
    assert assess(seen).doubt == ("test_note_thumb",)
    again = assess(seen.looked_again("test_note_thumb", "none"))
    assert (again.clash, again.settled, again.likely) == (False, False, True)
    assert codes(again.leading) == ["side-low-Bb9"]


@given(someone, st.sets(st.sampled_from(sorted(CHECKS))))
def test_a_whole_horn_is_never_called_broken(one, keys):
    right = usual_answers(one)
    verdict = assess(Observations({key: right[key] for key in keys if key in right}))
    assert verdict.leading.states == ()
    assert verdict.perhaps is None
    assert verdict.leading.as_said == verdict.leading.probability


@given(someone, st.data())
def test_one_wrong_answer_settles_no_whole_horn_as_broken(one, data):
    right = usual_answers(one)
    key = data.draw(st.sampled_from(sorted(right)))
    verdict = assess(Observations({**right, key: data.draw(st.sampled_from(CHECKS[key].answers))}))
    assert not (verdict.settled and verdict.leading.states)
    if verdict.leading.states and not verdict.next_check:
        assert key in verdict.confirm


@given(st.sampled_from(BROKEN), st.sets(st.sampled_from(sorted(CHECKS))))
def test_what_is_called_broken_fits_and_a_whole_one_of_its_kind_does_not(one, keys):
    right = usual_answers(one)
    verdict = assess(Observations({key: right[key] for key in keys if key in right}))
    leading = verdict.leading
    assert (leading.shown_by != ()) == bool(leading.states)
    if leading.states:
        assert leading.fits
        assert 0.9 <= leading.share <= 1
        assert leading.form.state.code in codes(leading)
        assert not verdict.doubts


def test_a_string_that_is_off_is_settled_once_the_answers_that_say_so_were_looked_at_twice():
    seen = Observations(STRING_OFF)
    once = assess(seen)
    assert (once.settled, once.confirm) == (False, ("test_note_thumb", "thumb"))
    (sentence,) = explain.confirmations(once)
    assert sentence.startswith("Look once more at the test note with the thumb down and what the thumb lever does")
    assert sentence.endswith("that alone says that something is wrong with it.")

    twice = looked_twice(seen)
    assert twice.settled
    words = "This is a full double horn in F and B♭, standing in F, whose thumb string is off."
    assert explain.headline(twice) == words
    assert explain.wrong_with(twice.leading)[0].startswith("Its thumb string is off. The thumb lever changes nothing:")


def test_one_thumb_answer_alone_is_doubted_and_the_other_is_asked_for():
    seen = Observations({key: answer for key, answer in STRING_OFF.items() if key != "thumb"})
    verdict = assess(seen)
    assert (verdict.clash, verdict.leading.states, verdict.doubt[0]) == (True, (), "test_note_thumb")
    assert codes(verdict.perhaps) == ["thumb-off"]
    assert verdict.next_check == "thumb"
    assert codes(assess(seen.with_answer("thumb", "nothing")).leading) == ["thumb-off"]
    back = assess(seen.with_answer("thumb", "raises"))
    assert (back.leading.states, back.perhaps) == ((), None)


def test_a_lever_that_was_tried_and_works_leaves_its_string_in_peace():
    verdict = assess(Observations({**DOUBLE, "thumb": "nothing"}))
    assert verdict.doubt == ("thumb",)
    assert verdict.perhaps is None


@pytest.mark.parametrize(("towards", "settled"), [(-0.5, True), (0.5, False)])
def test_what_is_broken_without_a_doubted_answer_is_settled_by_the_chance_that_it_is_so(monkeypatch, towards, settled):
    told = DOUBLE | {"valves": "3", "test_note": "none", "test_note_thumb": "none", "length": "33-37"}
    seen = Observations({key: told[key] for key in told if key not in ("step_down", "wrap", "each_finger", "width")})
    place, then = next(
        (place, doubt.then[0]) for place, doubt in enumerate(assess(seen).doubts) if doubt.then[0].states
    )
    assert then.as_said < then.probability

    least = then.as_said + towards * (then.probability - then.as_said)
    monkeypatch.setattr("identify.core.reasoning.verdict.SETTLED_AT_LAST", least)
    assert assess(seen).doubts[place].then_settled is settled


def test_more_than_two_things_that_may_be_wrong_are_listed_and_not_named_in_one_breath():
    silent = looked_twice(Observations(usual_answers(of("single-f", "F", "blocked"))))
    assert explain.named(silent.leading) == "single horn in F that is out of order"
    assert len(explain.wrong_with(silent.leading)) == len(silent.leading.states) > 2
    two = assess(Observations(usual_answers(of("single-f", "F", "low"))).looked_again("test_note", "2")).perhaps
    assert explain.named(two).endswith(
        "whose first two slides are in each other’s place or whose main slide is a semitone too long"
    )


def test_a_reason_says_what_a_whole_one_would_do():
    verdict = looked_twice(Observations(STRING_OFF))
    said = {reason.check: reason for reason in reasons(verdict.leading, verdict.observations)}
    assert all(reason.speaks_for for reason in said.values())
    assert said["thumb"].short.endswith("raises the pitch a fourth, were the horn whole.")
    assert said["valves"].short == "Such a horn has four valves."


def test_only_what_a_check_can_show_is_reckoned_with():
    assert "slides-crossed" not in [one.state.code for one in broken(of("single-bb", "Bb"))]
    assert "slides-crossed" in [one.state.code for one in broken(of("single-f", "F"))]
    assert all(any(expected(one, key) != expected(one.whole, key) for key in SHOWS) for one in BROKEN)


def test_broken_and_whole_horns_of_a_build_are_together_as_common_as_it_is():
    on = scales()
    priors = on.priors()
    assert priors.sum() == pytest.approx(1)
    assert priors.min() > 0
    shares = on.build_shares()
    mine = [place for place, one in enumerate(on.every) if one.build.code == "double-full"]
    assert priors[mine].sum() == pytest.approx(shares["double-full"])
    off = [place for place in mine if on.every[place].state and on.every[place].state.code == "thumb-off"]
    assert priors[off].sum() == pytest.approx(0.01 * shares["double-full"])


def test_a_first_valve_stuck_down_sounds_the_tube_a_tone_lower():
    heard = Heard(up={"Eb13": 1.0, "F12": 0.01})
    assert scales().heard_weight(heard, of("single-f", "F", "valve-down-1")) == 1
    assert scales().heard_weight(heard, of("single-f", "F")) == pytest.approx(0.01)
    assert scales().heard_weight(heard, of("single-f", "F", "valve-dead-1")) == pytest.approx(0.01)
    assert scales().heard_weight(heard, of("single-f", "F", "low")) == pytest.approx(0.01)


@pytest.mark.parametrize(("share", "called"), [(0.899, False), (0.901, True)])
def test_a_horn_is_called_broken_when_nine_in_ten_of_its_chance_say_so(share, called):
    on, key = scales(), ("double-full", "F")
    posterior, slips = np.full(len(on.every), 1e-9), [frozenset({"hand"})] * len(on.every)
    place = on.every.index(of("double-full", "F", "thumb-off"))
    posterior[on.every.index(of("double-full", "F"))] = 1 - share
    posterior[place], slips[place] = share, frozenset()
    leading = rank(on, posterior, (posterior, posterior), on.priors(), slips)[0]
    assert leading.key == key
    assert codes(leading) == (["thumb-off"] if called else [])


@pytest.mark.parametrize(("rarer", "named"), [(0.099, 1), (0.101, 2)])
def test_what_is_one_in_ten_of_what_may_be_wrong_is_named(rarer, named):
    on = scales()
    posterior, slips = np.full(len(on.every), 1e-9), [frozenset({"hand"})] * len(on.every)
    for code, share in (("thumb-off", 1 - rarer), ("low", rarer)):
        place = on.every.index(of("double-full", "F", code))
        posterior[place], slips[place] = share, frozenset()
    assert codes(rank(on, posterior, (posterior, posterior), on.priors(), slips)[0]) == ["thumb-off", "low"][:named]


SINGLE_F = of("single-f", "F")
IN_EB = usual_answers(of("single-f-eb", "Eb"))


@pytest.mark.parametrize(
    ("state", "answer"),
    [("", "none"), ("valve-down-1", "1"), ("valve-dead-3", "3"), ("valve-reversed-1", "1"), ("low", "none")],
)
def test_a_valve_that_is_stuck_or_strung_wrong_does_not_lower_the_note_and_every_other_does(state, answer):
    assert expected(of("single-f", "F", state), "each_finger") == {answer: 1.0}


def test_nothing_is_expected_of_fingers_where_there_are_no_valves_or_no_note():
    assert expected(of("natural-horn", None), "each_finger") == {}
    assert expected(of("single-f", "F", "blocked"), "each_finger") == {}


def test_an_f_horn_whose_first_valve_is_stuck_down_is_told_from_one_in_e_flat_by_its_fingers():
    stuck = usual_answers(of("single-f", "F", "valve-down-1"))
    before = {key: stuck[key] for key in stuck if key != "each_finger"}
    assert before == {key: IN_EB[key] for key in before}
    assert assess(Observations(before)).leading.key == ("single-f-eb", "Eb")

    verdict = looked_twice(Observations(stuck))
    assert (verdict.leading.key, codes(verdict.leading)) == (("single-f", "F"), ["valve-down-1", "valve-reversed-1"])
    assert assess(Observations({**before, "each_finger": "none"})).leading.key == ("single-f-eb", "Eb")


def test_whether_each_finger_lowers_the_note_is_asked_where_it_tells_and_not_of_a_plain_f_horn():
    # What an E♭ horn answers before anything is asked of its fingers, and what an F horn does.
    asked = ("valves", "slide_sets", "test_note", "hand", "mechanism", "bell")
    in_eb = assess(Observations({key: IN_EB[key] for key in asked} | {"step_down": IN_EB["step_down"]}))
    assert in_eb.gains["each_finger"] >= 0.004
    plain = usual_answers(SINGLE_F)
    in_f = assess(Observations({key: plain[key] for key in asked} | {"step_down": plain["step_down"]}))
    assert in_f.gains["each_finger"] < 0.004


@pytest.mark.parametrize(("answer", "chance"), [("1", 0.97), ("none", 0.03), ("2", 0.0), ("4", 0.0)])
def test_a_finger_that_does_not_lower_the_note_is_overlooked_three_times_in_a_hundred(answer, chance):
    stuck = chances(of("single-f", "F", "valve-down-1"), "each_finger")
    assert stuck[answer] == pytest.approx(chance, abs=0.001)


@pytest.mark.parametrize(("answer", "chance"), [("none", 0.99), ("1", 0.01 / 3), ("3", 0.01 / 3), ("4", 0.0)])
def test_one_finger_in_a_hundred_is_said_not_to_lower_the_note_though_it_does(answer, chance):
    assert chances(SINGLE_F, "each_finger")[answer] == pytest.approx(chance, abs=0.0005)


def test_a_reason_says_of_fingers_what_a_whole_horn_does():
    verdict = looked_twice(Observations(usual_answers(of("single-f", "F", "valve-down-1"))))
    said = {reason.check: reason for reason in reasons(verdict.leading, verdict.observations)}
    assert said["each_finger"].short == "Each finger of such a horn lowers the note, were the horn whole."
    ascending = Observations({"valves": "3", "each_finger": "3"})
    raises = reason_of(of("piston-single-f", "F", form="ascending third"), "each_finger", "3", ascending)
    assert (raises.speaks_for, raises.short) == (True, "Such a horn has a valve that raises the note: the 3rd finger.")
    hoop = assess(Observations({"valves": "0", "crook": "yes", "each_finger": "none"}))
    assert reasons(hoop.leading, hoop.observations)[-1].short == "Such a horn has no valves, so this says nothing."


def test_what_is_not_named_is_no_part_of_how_sure_it_is():
    on, key = scales(), ("single-f", "F")
    posterior, slips = np.full(len(on.every), 1e-12), [frozenset({"hand"})] * len(on.every)
    for code, chance in (("valve-down-1", 0.92), ("valve-dead-1", 0.08)):
        place = on.every.index(of(*key, code))
        posterior[place], slips[place] = chance, frozenset()
    leading = rank(on, posterior, (posterior, posterior), on.priors(), slips)[0]
    assert codes(leading) == ["valve-down-1"]
    assert leading.share == pytest.approx(0.92)


def test_one_answer_that_alone_keeps_a_whole_horn_of_another_stand_from_fitting_is_named_too():
    answers = {key: said for key, said in usual_answers(of("triple-full", "F")).items() if key != "each_finger"}
    verdict = assess(Observations(answers | {"step_down": "5"}, passed=frozenset({"each_finger"})))
    assert (verdict.leading.key, codes(verdict.leading)) == (("triple-full", "Bb"), ["valve-reversed-1"])
    assert verdict.candidates[1].against == ("step_down",)
    assert verdict.confirm == ("test_note", "step_down")
    one, other = explain.confirmations(verdict)
    assert one.endswith("the test note with the thumb up: that alone says that something is wrong with it.")
    assert other.endswith(
        "the step down from the test note, in semitones: a full triple horn, standing in F would differ there."
    )
