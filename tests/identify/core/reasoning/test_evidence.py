import pytest
from hypothesis import given
from hypothesis import strategies as st

from identify.core.reasoning.evidence import CHECKS, Heard, Observations, UnknownAnswer, read_answer, read_observations

anything = st.text(max_size=60)
filled = st.dictionaries(
    st.one_of(st.sampled_from([*CHECKS, "again", "page", "csrf"]), anything),
    st.one_of(st.none(), anything),
    max_size=14,
)


@pytest.mark.parametrize(
    ("key", "text", "answer"),
    [
        ("valves", " 4 ", "4"),
        ("valves", "04", "4"),
        ("test_note", "open", "0"),
        ("test_note", "3", "12"),
        ("test_note", "21", "12"),
        ("test_note", "321", "123"),
        ("test_note", "None", "none"),
        ("second_set", "Much shorter", "much-shorter"),
        ("second_set", "much_shorter", "much-shorter"),
        ("thumb", "lowers a fourth", "lowers-fourth"),
        ("thumb", "none", "nothing"),
        ("mechanism", "rotors", "rotary"),
        ("hand", "LEFT", "left"),
        ("step_down", "12", "12"),
    ],
)
def test_an_answer_is_read_as_it_is_meant(key, text, answer):
    assert read_answer(key, text) == answer


@pytest.mark.parametrize("text", ["", "  ", "?", "can't tell", "Can’t tell", "cant-tell", "unknown"])
@pytest.mark.parametrize("key", CHECKS)
def test_cant_tell_is_an_answer_to_every_check(key, text):
    assert read_answer(key, text) is None


@pytest.mark.parametrize(
    ("key", "text", "allowed"),
    [
        ("valves", "9", "0 to 8"),
        ("valves", "-1", "0 to 8"),
        ("valves", "four", "0 to 8"),
        ("valves", "²", "0 to 8"),
        ("valves", "9" * 5000, "0 to 8"),
        ("slide_sets", "5", "0 to 4"),
        ("test_note", "4", "123"),
        ("test_note", "11", "123"),
        ("hand", "both", "left, right"),
        ("bell", "down", "back, up, front"),
        ("step_down", "2.5", "0 to 24"),
        ("wrap", "🎺", "standard, compact, oval, trumpet"),
    ],
)
def test_a_wrong_answer_is_refused_with_those_allowed(key, text, allowed):
    with pytest.raises(UnknownAnswer, match="is not an answer; allowed are") as refused:
        read_answer(key, text)
    assert allowed in str(refused.value)
    assert len(str(refused.value)) < 250


def test_a_check_that_does_not_exist_is_refused():
    with pytest.raises(UnknownAnswer, match="There is no check called 'colour'"):
        Observations({"colour": "gold"})


def test_all_problems_are_told_at_once_and_the_good_answers_are_kept():
    observations, problems = read_observations(
        {"valves": "four", "hand": "left", "bell": "down", "wrap": "?", "x": "y"}
    )
    assert observations.answers == {"hand": "left"}
    assert observations.passed == {"wrap"}
    assert sorted(problems) == ["bell", "valves"]


@given(filled)
def test_reading_never_fails_whatever_the_text(given_fields):
    observations, problems = read_observations(given_fields)
    assert set(observations.answers) | set(problems) <= set(CHECKS)
    assert not set(observations.answers) & set(problems)
    assert observations.again <= set(observations.answers)
    for key, sentence in problems.items():
        assert CHECKS[key].allowed in sentence


@given(st.sampled_from(sorted(CHECKS)), anything)
def test_an_answer_that_was_read_is_read_again_as_itself(key, text):
    try:
        answer = read_answer(key, text)
    except UnknownAnswer:
        return
    if answer is not None:
        assert answer in CHECKS[key].answers
        assert read_answer(key, answer) == answer


def test_observations_are_equal_whatever_order_they_came_in():
    one = Observations({"hand": "left", "valves": "3"})
    other = Observations({"valves": "3", "hand": "left"})
    assert one == other
    assert list(one.answers) == ["valves", "hand"]


def test_taking_an_answer_back_leaves_the_others():
    seen = Observations({"hand": "left", "valves": "3"}, frozenset({"wrap"}))
    assert seen.without(["hand"]).answers == {"valves": "3"}
    assert seen.without(["hand"]).passed == {"wrap"}


def test_an_answer_replaces_cant_tell():
    seen = Observations({}, frozenset({"hand"})).with_answer("hand", "left")
    assert (seen.answers, seen.passed) == ({"hand": "left"}, frozenset())


def test_only_the_same_answer_once_more_counts_as_a_second_look():
    once = Observations({"hand": "left"})
    twice = once.looked_again("hand", "LEFT")
    assert (twice.answers, twice.again) == ({"hand": "left"}, {"hand"})
    for before in (once, twice):
        other = before.looked_again("hand", "right")
        assert (other.answers, other.again) == ({"hand": "right"}, frozenset())
    assert twice.looked_again("hand", "?").again == frozenset()


def test_what_could_not_be_told_at_first_is_seen_once_when_it_is_told():
    told = Observations({}, frozenset({"hand"})).looked_again("hand", "left")
    assert (told.answers, told.again) == ({"hand": "left"}, frozenset())


def test_checks_looked_at_twice_are_read_from_text():
    assert read_observations({"hand": "left", "again": "hand, wrap slide-sets"})[0].again == {"hand"}


@pytest.mark.parametrize("weights", [{"F12": -1.0}, {"F12": float("nan")}, {"F12": float("inf")}, {"F12": 0.0}])
def test_a_recording_must_weigh_something(weights):
    with pytest.raises(ValueError, match=r"[Ll]ikelihood"):
        Heard(up=weights)


@pytest.mark.parametrize(
    ("cm", "step"),
    [
        (0, "0-27"), (27, "0-27"), (28, "28-32"), (32, "28-32"), (33, "33-37"), (37, "33-37"), (38, "38-42"),
        (42, "38-42"), (43, "43-47"), (47, "43-47"), (48, "48-54"), (54, "48-54"), (55, "55-64"), (64, "55-64"),
        (65, "65-199"), (199, "65-199"),
    ],
)  # fmt: skip
def test_a_length_in_centimetres_is_read_as_its_step(cm, step):
    assert read_answer("length", str(cm)) == read_answer("length", step) == step


@pytest.mark.parametrize(
    ("cm", "step"), [(0, "0-13"), (13, "0-13"), (14, "14-17"), (28, "26-28"), (29, "29-99"), (99, "29-99")]
)
def test_a_width_in_centimetres_is_read_as_its_step(cm, step):
    assert read_answer("width", str(cm)) == read_answer("width", step) == step


def test_a_horn_of_two_metres_is_no_answer():
    with pytest.raises(UnknownAnswer, match="0 to 199 centimetres"):
        read_answer("length", "200")


def test_one_side_and_both_may_be_said_shortly():
    assert {read_answer("shared_row", said) for said in ("one", "One side", "one-side")} == {"one-side"}
    assert {read_answer("shared_row", said) for said in ("both", "both sides", "both_sides")} == {"both-sides"}
