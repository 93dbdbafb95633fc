import pytest

from identify.core.horns.catalogue import catalogue
from identify.core.reasoning.evidence import BOTH_SIDES, CHECKS, ONE_SIDE
from identify.core.reasoning.expect import Hypothesis, expected, hypotheses, usual_answer
from identify.core.reasoning.mistakes import chances, rates
from identify.core.reasoning.scales import scales

EVERY = list(hypotheses(catalogue()))


def of(code, stand, form=""):
    build = next(each for each in catalogue()[code].forms if each.form == form)
    return Hypothesis(build, build.stand(stand))


@pytest.mark.parametrize(
    ("code", "stand", "up", "down"),
    [
        ("single-f", "F", "1", None),
        ("single-f-eb", "Eb", "0", None),
        ("single-bb", "Bb", "0", None),
        ("single-bb-f-extension", "Bb", "0", "1"),
        ("single-high-f", "high F", "1", None),
        ("double-full", "F", "1", "0"),
        ("double-full", "Bb", "0", "1"),
        ("double-compensating", "F", "1", "0"),
        ("descant-bb-high-f", "Bb", "0", "1"),
        ("descant-bb-high-eb", "Bb", "0", "0"),
        ("descant-f-high-f", "F", "1", "1"),
        ("triple-full", "F", "1", "0"),
        ("triple-full", "Bb", "0", "1"),
        ("wagner-tenor-bb", "Bb", "0", None),
        ("wagner-bass-f", "F", "1", None),
        ("alto-horn-eb", "Eb", "0", None),
        ("mellophone-f", "F", "1", None),
        ("marching-mellophone-g", "G", "23", None),
        ("flugelhorn-bb", "Bb", "0", None),
    ],
)
def test_the_test_note_follows_from_the_tubes(code, stand, up, down):
    assert usual_answer(of(code, stand), "test_note") == up
    assert usual_answer(of(code, stand), "test_note_thumb") == (down or "none")


@pytest.mark.parametrize(
    ("code", "stand", "effect"),
    [
        ("double-full", "F", "raises"),
        ("double-full", "Bb", "lowers-fourth"),
        ("single-bb-stopping", "Bb", "lowers-little"),
        ("single-bb-f-extension", "Bb", "lowers-fourth"),
        ("descant-bb-high-eb", "Bb", "raises"),
        ("descant-f-high-f", "F", "raises"),
        ("wagner-tenor-bb", "Bb", "nothing"),
        ("single-f", "F", "nothing"),
    ],
)
def test_what_the_thumb_does_follows_from_its_lever(code, stand, effect):
    assert usual_answer(of(code, stand), "thumb") == effect


def test_of_two_levers_both_are_reckoned_with():
    assert expected(of("single-bb-stopping-f-extension", "Bb"), "thumb").keys() == {
        "lowers-fourth",
        "lowers-little",
    }


@pytest.mark.parametrize(
    ("code", "length"),
    [
        ("double-full", "longer"),
        ("double-compensating", "much-shorter"),
        ("descant-bb-high-f", "shorter"),
        ("descant-bb-high-eb", "shorter"),
        ("descant-f-high-f", "shorter"),
        ("triple-full", "longer"),
        ("triple-compensating", "much-shorter"),
        ("single-f", "none"),
    ],
)
def test_the_second_sets_length_follows_from_the_sides(code, length):
    build = catalogue()[code]
    assert usual_answer(Hypothesis(build, build.stands[0]), "second_set") == length


@pytest.mark.parametrize(
    ("code", "shared"),
    [
        ("double-full", {ONE_SIDE: 1.0}),
        ("double-compensating", {BOTH_SIDES: 1.0}),
        ("triple-full", {ONE_SIDE: 1.0}),
        ("triple-compensating", {BOTH_SIDES: 1.0}),
        ("descant-bb-high-f", {ONE_SIDE: 1.0}),
        ("single-bb-f-extension", {BOTH_SIDES: 1.0}),
        ("single-bb-stopping", {BOTH_SIDES: 1.0}),
        ("single-f", {}),
        ("natural-horn", {}),
    ],
)
def test_whether_both_sides_blow_through_one_row_follows_from_the_sides(code, shared):
    build = catalogue()[code]
    assert all(expected(Hypothesis(build, stand), "shared_row") == shared for stand in build.stands)


@pytest.mark.parametrize(
    ("code", "stand", "lengths"),
    [
        ("single-f", "F", {"33-37", "38-42", "43-47", "48-54"}),
        ("compact-f", "F", {"28-32", "33-37", "38-42"}),
        # Eight in a thousand of these lie in the next step: so few that it is taken for a mistake.
        ("single-high-f", "high F", {"0-27", "28-32", "33-37", "38-42"}),
    ],
)
def test_lengths_that_hardly_any_horn_has_are_not_expected(code, stand, lengths):
    assert set(expected(of(code, stand), "length")) == lengths


def test_a_length_misread_may_be_any_other():
    told = chances(of("compact-f", "F"), "length")
    others = [chance for answer, chance in told.items() if answer not in expected(of("compact-f", "F"), "length")]
    assert len(others) == 5
    assert others == [pytest.approx((rates()["length_misread"] + rates()["anything_else"]) / 7, rel=0.2)] * 5


def test_the_step_down_keeps_the_fingering_that_was_observed():
    b_flat = of("single-bb", "Bb")
    assert expected(b_flat, "step_down") == {"5": 1.0}
    assert expected(b_flat, "step_down", "23") == {"4": 1.0}  # from the flat fifth partial


def test_a_horn_without_valves_expects_no_hand():
    assert expected(of("natural-horn", "F"), "hand") == {}
    assert expected(of("natural-horn", "F"), "test_note") == {"none": 1.0}
    assert expected(of("natural-horn", "Eb"), "test_note") == {"0": 1.0}


@pytest.mark.parametrize("key", CHECKS)
def test_shares_and_chances_add_up_to_one(key):
    for one in EVERY:
        for note in (None, "1", "none") if key == "step_down" else (None,):
            shares, likely = expected(one, key, note), chances(one, key, note)
            assert sum(shares.values()) == pytest.approx(1) or not shares
            assert set(shares) <= set(CHECKS[key].answers)
            assert sum(likely.values()) == pytest.approx(1)
            assert min(likely.values()) > 0


@pytest.mark.parametrize("key", CHECKS)
def test_the_right_answer_is_more_likely_than_every_mistake(key):
    for one in EVERY:
        shares, likely = expected(one, key), chances(one, key)
        right = usual_answer(one, key)
        if right is not None:
            assert all(likely[right] > chance for answer, chance in likely.items() if answer not in shares)


def test_a_lever_is_overlooked_more_often_than_an_ordinary_valve():
    double, single = chances(of("double-full", "F"), "valves"), chances(of("single-f", "F"), "valves")
    assert double["3"] > 5 * single["2"]


def test_a_short_second_set_is_overlooked_more_often_than_a_full_one():
    compensating = chances(of("double-compensating", "F"), "slide_sets")
    assert compensating["1"] > 3 * chances(of("double-full", "F"), "slide_sets")["1"]


def test_a_stopping_slide_is_counted_as_a_set_now_and_then():
    stopping = scales().chances_of("slide_sets", "2")[[one.key for one in EVERY].index(("single-bb-stopping", "Bb"))]
    assert 0.001 < stopping < 0.05


def test_an_unknown_check_is_an_error():
    with pytest.raises(KeyError):
        expected(EVERY[0], "colour")


@pytest.mark.parametrize("check", ["hand", "bell", "shared_row"])
def test_whoever_takes_one_answer_for_another_is_as_likely_to_say_each_other_one(check):
    told = chances(of("double-full", "F"), check)
    right = max(told, key=lambda answer: told[answer])

    assert set(told) == set(CHECKS[check].answers)
    others = [told[answer] for answer in told if answer != right]
    assert others == [pytest.approx(others[0])] * len(others)
    rate = rates()[{"hand": "left_for_right", "bell": "bell_misjudged", "shared_row": "breath_misjudged"}[check]]
    assert rate <= sum(others) <= rate + rates()["anything_else"]
