import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.reasoning import explain
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.expect import usual_answers
from identify.core.reasoning.numbers import counted, interval, lowering, nth, percent
from identify.core.reasoning.reasons import reason_of, reasons
from identify.core.reasoning.scales import scales
from identify.core.reasoning.verdict import assess

EVERY = scales().hypotheses
answers = st.fixed_dictionaries({}, optional={key: st.sampled_from(check.answers) for key, check in CHECKS.items()})


def of(code, stand, form=""):
    return next(one for one in EVERY if one.key == (code, stand) and one.build.form == form)


def full_double_unmeasured():
    """A full double of which everything was told but whether its sides share a row."""
    right = usual_answers(of("double-full", "F"))
    return Observations({**right, "shared_row": "?"}, frozenset({"shared_row"}))


def short(one, **seen):
    observations = Observations(seen)
    return [reason_of(one, key, answer, observations).short for key, answer in observations.answers.items()]


def test_the_test_note_is_explained_by_its_partial():
    assert short(of("single-f", "F"), test_note="1") == [
        "With the first valve the 12-foot F tube lowered a tone sounds B♭3 as its 6th partial."
    ]
    assert short(of("single-bb", "Bb"), test_note="0") == ["Open, the 9-foot B♭ tube sounds B♭3 as its 4th partial."]


def test_a_fingering_that_cannot_sound_it_is_said_to_miss_and_by_how_much():
    assert short(of("single-bb", "Bb"), test_note="1") == [
        "With the first valve the 9-foot B♭ tube lowered a tone misses B♭3: "
        "its 5th partial is 186 cents too high; that tube sounds the note open."
    ]


def test_an_extension_is_said_to_play_sharp():
    (sentence,) = short(of("single-bb-f-extension", "Bb"), test_note_thumb="1")
    assert sentence.endswith("sounds B♭3 as its 6th partial, 50 cents too high.")


def test_counts_are_explained_by_what_is_built_in():
    reason = reason_of(of("double-compensating", "F"), "slide_sets", "1", Observations({"slide_sets": "1"}))
    assert not reason.speaks_for
    assert reason.short == "Such a horn has two sets of valve slides, not 1."
    assert "runs through the 9-foot B♭ slides and a short set that adds the rest" in reason.detail


def test_the_step_down_is_named_as_an_interval():
    assert short(of("double-full", "Bb"), step_down="5") == [
        "From the 4th partial the next one down is a fourth lower."
    ]
    assert short(of("mellophone-f", "F"), step_down="3") == [
        "From the 3rd partial the next one down is a fifth lower, not a minor third."
    ]


def test_the_lever_that_explains_the_answer_is_the_one_that_is_named():
    one = of("double-full-stopping", "Bb")
    assert short(one, thumb="lowers-little") == [
        "The lever of the stopping slide adds one short slide and lowers the pitch a little."
    ]
    (sentence,) = short(one, thumb="lowers-fourth")
    assert sentence.startswith("The change lever between the F and the B♭ side leads to the 12-foot F tube")
    assert sentence.endswith("and lowers the pitch a fourth.")


def test_a_short_second_set_is_explained_by_the_difference_it_adds():
    reason = reason_of(of("double-compensating", "F"), "second_set", "much-shorter", Observations())
    assert reason.short == "The second set is very short."
    assert reason.detail.startswith("0.33 of the first set’s tube")


def test_a_second_set_that_was_seen_otherwise_is_contradicted_in_words():
    compensating, full = of("double-compensating", "F"), of("double-full", "F")
    assert short(compensating, second_set="longer") == ["The second set is very short, not longer."]
    assert short(compensating, second_set="shorter") == ["The second set is very short, not a little shorter."]
    assert short(full, second_set="much-shorter") == ["The second set is longer than the first, not much shorter."]
    assert short(full, second_set="none") == ["The second set is longer than the first, not missing."]


def test_a_row_that_serves_one_side_or_both_says_why():
    full, compensating = of("double-full", "F"), of("double-compensating", "F")
    assert short(full, shared_row="one-side") == ["The longer row of slides serves one side only."]
    assert short(full, shared_row="both-sides") == ["The longer row of slides serves one side only, not both."]
    assert short(compensating, shared_row="one-side") == ["The longer row of slides serves both sides, not one only."]
    reason = reason_of(compensating, "shared_row", "both-sides", Observations())
    assert reason.detail == "The other side runs through this row and adds the rest."
    assert short(of("single-f", "F"), shared_row="one-side") == ["Such a horn may answer either way."]


def test_a_bells_width_is_told_with_what_is_known_of_it_and_where_from():
    reason = reason_of(of("trumpet-bb", "Bb"), "width", "14-17", Observations())
    assert reason.short == "Nine bells in ten are 11 to 12.8 cm wide, not 14 to 17."
    assert "from memory" in reason.detail


def test_a_length_is_told_with_what_is_known_of_it_and_where_from():
    reason = reason_of(of("single-f", "F"), "length", "28-32", Observations())
    assert reason.short == "Nine in ten are 38 to 46 cm long, not 28 to 32."
    assert "Birmingham 9.1" in reason.detail
    high = reason_of(of("single-high-f", "high F"), "length", "28-32", Observations())
    assert (high.short, high.detail) == ("Nine in ten are 29 to 40 cm long.", "From memory, no source.")


def test_two_observations_to_doubt_are_spoken_of_as_two():
    right = usual_answers(of("wagner-double", "F"))
    (sentence, *_) = explain.doubts(assess(Observations({**right, "hand": "right", "mechanism": "piston"})))
    assert sentence.startswith(
        "Look again at the hand that works the valves and the kind of valve: without those answers,"
    )


def test_checks_that_are_named_by_a_question_are_doubted_without_an_article():
    right = usual_answers(of("double-full", "F"))
    said = explain.doubts(assess(Observations({**right, "bell": "front", "hand": "right"})))
    assert any("where the bell points" in sentence for sentence in said)
    assert not any("the where" in sentence or "the what" in sentence for sentence in said)


@pytest.mark.parametrize(
    ("valves", "sets", "counted"), [("1", "4", "one valve and four sets"), ("8", "1", "eight valves and one set")]
)
def test_one_of_what_was_counted_is_spoken_of_as_one(valves, sets, counted):
    said = explain.headline(assess(Observations({"valves": valves, "slide_sets": sets})))
    assert said.startswith(f"No kind we know has {counted} of valve slides")


def test_where_no_fingering_was_found_the_one_that_sounds_it_is_named_once():
    double = of("double-full", "F")
    assert short(double, test_note="none") == ["With the first valve the 12-foot F tube does sound B♭3."]
    assert short(double, test_note_thumb="none") == ["With the thumb: open, the 9-foot B♭ tube does sound B♭3."]


def test_a_mellophone_and_an_alto_horn_are_said_to_be_no_french_horn():
    for code, stand in (("mellophone-f", "F"), ("alto-horn-eb", "Eb"), ("wagner-tenor-bb", "Bb")):
        verdict = assess(Observations(usual_answers(of(code, stand))))
        assert verdict.leading.build.code == code
        assert "no French horn" in explain.what_it_is_not(verdict.leading)
    verdict = assess(full_double_unmeasured())
    assert explain.what_it_is_not(verdict.leading) == ""
    full = "a full double horn in F and B♭, standing in F"
    assert explain.headline(verdict) == f"This is likely {full} (at least 98 %), but not settled yet."
    settled = assess(verdict.observations.looked_again("second_set", "longer"))
    assert explain.headline(settled) == f"This is {full}."


def test_nothing_observed_is_said():
    assert explain.headline(assess(Observations())).startswith("Nothing has been observed yet")


def test_impossible_counts_are_said_and_what_would_be_thought_without_each():
    verdict = assess(Observations({"valves": "4", "slide_sets": "3"}))
    said = "No kind we know has four valves and three sets of valve slides: count both again."
    assert explain.headline(verdict) == said
    assert explain.doubts(verdict)[0].startswith("Look again at the number of valve-slide sets: without that answer,")


def test_a_clash_that_was_looked_at_twice_is_handed_to_a_repairer():
    right = usual_answers(of("double-full", "F"))
    seen = Observations({**right, "hand": "right"}).looked_again("hand", "right")
    assert "Ask a repairer" in explain.doubts(assess(seen))[-1]


def test_a_settled_verdict_may_ask_for_one_more_look_and_says_which_rival_would_differ():
    verdict = assess(full_double_unmeasured())
    (sentence,) = explain.confirmations(verdict)
    assert sentence.startswith("Look once more at the length of the second slide set: a compensating double horn")


def test_the_runner_up_is_argued_against():
    verdict = assess(full_double_unmeasured())
    against = explain.against_runner_up(verdict)
    assert [reason.check for reason in against] == ["second_set"]


def test_a_build_known_from_memory_says_so():
    verdict = assess(Observations(usual_answers(of("descant-f-high-f", "F"))))
    assert "from memory" in explain.certainty(verdict.leading)
    assert explain.certainty(assess(Observations(usual_answers(of("double-full", "F")))).leading) == ""


def test_the_schools_own_mix_is_told_only_where_it_counts():
    assert explain.own_mix(assess(Observations())) == ""
    assert "Your 60 confirmed horns count 50 %" in explain.own_mix(assess(Observations(), mix={"single-f": 60}))


@given(answers)
def test_every_verdict_can_be_told_in_whole_sentences(seen):
    verdict = assess(Observations(seen))
    told = [explain.headline(verdict), *explain.doubts(verdict), *explain.confirmations(verdict)]
    told += [
        explain.next_step(verdict),
        explain.what_it_is_not(verdict.leading),
    ]
    for candidate in verdict.candidates[:3]:
        given_reasons = reasons(candidate, verdict.observations)
        assert [reason.check for reason in given_reasons] == list(verdict.observations.answers)
        assert {reason.check for reason in given_reasons if not reason.speaks_for} == set(candidate.against)
        told += [text for reason in given_reasons for text in (reason.short, reason.detail)]
    for sentence in told:
        assert sentence == "" or ((sentence[0].isupper() or sentence[0].isdigit()) and sentence[-1] in ".?")
        assert "  " not in sentence


@pytest.mark.parametrize("one", EVERY, ids=lambda one: f"{one.key[0]}-{one.key[1]}-{one.build.form}")
def test_nothing_speaks_against_the_truth_in_an_error_free_walk(one):
    seen = Observations(usual_answers(one))
    assert all(reason_of(one, key, answer, seen).speaks_for for key, answer in seen.answers.items())


def test_numbers_are_spoken():
    assert (counted(1, "valve"), counted(0, "valve"), counted(14, "semitone")) == (
        "one valve",
        "no valves",
        "14 semitones",
    )
    assert (nth(2), nth(3), nth(6), nth(11)) == ("2nd", "3rd", "6th", "11th")
    assert (interval(5), interval(14), lowering(2), lowering(-2)) == (
        "a fourth", "14 semitones", "lowered a tone", "raised a tone",
    )  # fmt: skip
    assert (percent(1.0), percent(0.001), percent(0.42)) == ("over 99 %", "under 1 %", "42 %")


def test_a_marching_horn_is_not_called_a_horn_pupil_s_wrong_instrument():
    horn = next(one for one in rank_of(of("marching-horn-bb", "Bb")) if one.build.code == "marching-horn-bb")
    assert explain.what_it_is_not(horn) == (
        "The marching horn in B♭ is no French horn, but made for horn players: a horn mouthpiece fits, "
        "and the fingerings are those of a single horn in B♭."
    )
    longer = next(one for one in rank_of(of("marching-horn-g", "G")) if one.build.code == "marching-horn-g")
    assert explain.what_it_is_not(longer).endswith("made for horn players: a horn mouthpiece fits.")
    mello = next(one for one in rank_of(of("mellophone-f", "F")) if one.build.code == "mellophone-f")
    assert "do not belong to it" in explain.what_it_is_not(mello)


def rank_of(one):
    return assess(Observations(usual_answers(one))).candidates


@pytest.mark.parametrize("code", ["single-f", "double-compensating", "natural-horn", "single-bb-f-extension"])
def test_no_reason_calls_the_kind_it_which_is_the_horn_in_hand(code):
    one = next(one for one in EVERY if one.build.code == code)
    found = [
        reason_of(one, key, answer, Observations({"test_note": "1", key: answer}))
        for key, check in CHECKS.items()
        for answer in check.answers[:9]
    ]
    said = [words for reason in found for words in (reason.short, reason.detail)]

    assert [words for words in said if re.search(r"\bit\b", words, re.IGNORECASE) or words.startswith("Its ")] == []
