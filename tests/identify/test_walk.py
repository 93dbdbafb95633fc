"""The walk through its pages: the address is the state, nothing is lost and nothing is written."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import parse_qsl, urlencode, urlsplit

import pytest
from django.contrib.sessions.models import Session
from django.http import QueryDict

from fleet.ground.access import Role
from identify.asked import PARTS
from identify.core.reasoning.evidence import CHECKS
from identify.questions import BY_EAR, QUESTIONS
from identify.walk import read_walk
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]

FULL_DOUBLE = {
    "valves": "4",
    "slide_sets": "2",
    "test_note": "1",
    "test_note_thumb": "0",
    "hand": "left",
    "mechanism": "rotary",
    "bell": "back",
    "wrap": "standard",
    "second_set": "longer",
    "length": "38-42",
}


@pytest.fixture
def walk(as_):
    """Asks for a page of the walk as a teacher would."""
    school = make.school(slug="hill")
    client = as_(make.staff(Role.TEACHER, school))

    def ask(query=None, **answers):
        return client.get("/s/hill/identify/", query if query is not None else answers)

    return ask


def _main(answer) -> str:
    return answer.content.decode().split("<main", 1)[1]


def words(answer) -> str:
    """The page's text without its mark-up, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", _main(answer))).split())


def heading(answer) -> str:
    found = re.search(r"<h1[^>]*>(.*?)</h1>", _main(answer), re.DOTALL)
    return unescape(found[1]) if found else ""


def hidden(answer) -> dict[str, str]:
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', _main(answer))
    return {name: unescape(value) for name, value in found if name != "csrfmiddlewaretoken"}


def offered(answer) -> list[tuple[str, str]]:
    return re.findall(r'<button class="choice[^"]*" name="([^"]+)" value="([^"]+)"', folded(answer))


def link(answer, label: str) -> dict[str, str]:
    """The query behind the link with this text."""
    found = re.search(rf'<a[^>]*href="([^"]+)"[^>]*> ?{label}', folded(answer))
    assert found, f"no link {label!r}"
    return dict(parse_qsl(urlsplit(unescape(found[1])).query))


def test_the_walk_begins_with_the_valves(walk):
    answer = walk()

    assert answer.context["question"].key == "valves"
    assert offered(answer) == [("valves", value) for value in ("3", "4", "5", "6", "2", "0", "cant-tell")]
    assert "What schools mostly have" in words(answer)


def test_the_four_checks_come_in_their_usual_order(walk):
    given: dict[str, str] = {}
    asked = []
    while "question" in (answer := walk(given)).context:
        key = answer.context["question"].key
        asked.append(key)
        given[key] = FULL_DOUBLE.get(key, "cant-tell")

    four = [key for key in asked if CHECKS[key].group != "deciding"]
    assert four == [key for key in CHECKS if key in four]
    assert asked[:4] == ["valves", "slide_sets", "test_note", "test_note_thumb"]
    assert asked[len(four) :] == ["second_set", "length", "shared_row"]
    assert heading(answer) == "a full double horn in F and B♭, standing in F"
    assert "Stands in F" in words(answer)
    assert "Not settled yet. This is likely" in words(answer)
    assert "How sure Likely: at least 98 %." in words(answer)

    again = walk(given | link(answer, "Look once more: second slide set"))
    assert again.context["question"].key == "second_set"
    assert hidden(again)["first"] == "second_set:longer"
    settled = walk({**hidden(again), "second_set": "longer"})
    assert settled.context["verdict"].settled
    assert "As good as certain" in words(settled)


def test_every_answer_is_carried_on_in_the_form_and_only_the_one_asked_is_left_out(walk):
    answer = walk(valves="4", slide_sets="cant-tell", horn="12")

    assert answer.context["question"].key == "test_note"
    assert hidden(answer) == {"valves": "4", "slide_sets": "cant-tell", "horn": "12"}


def test_going_back_loses_nothing(walk):
    answer = walk(valves="4", slide_sets="2", test_note="1")
    back = link(answer, "Back")

    assert back == {"valves": "4", "slide_sets": "2", "test_note": "1", "step": "test_note"}

    earlier = walk(back)
    assert earlier.context["question"].key == "test_note"
    assert 'value="1" aria-current="true"' in folded(earlier)
    assert link(earlier, "Leave this answer and go on") == {
        "valves": "4",
        "slide_sets": "2",
        "test_note": "1",
    }
    assert link(earlier, "Back")["step"] == "slide_sets"


def test_no_link_back_stands_where_the_walk_begins(walk):
    assert walk(valves="4", step="valves").context["back"] is None


def test_what_is_still_possible_narrows_with_every_answer(walk):
    kinds = [
        walk(query).context["possible"].kinds
        for query in ({}, {"valves": "4"}, {"valves": "4", "slide_sets": "2"}, FULL_DOUBLE)
    ]

    assert kinds == sorted(kinds, reverse=True)
    assert kinds[-1] == 1


def test_thumb_down_is_not_asked_of_three_valves(walk):
    assert walk(valves="3", slide_sets="1", test_note="1").context["question"].key == "hand"


def test_a_horn_without_valves_is_settled_by_its_crook_and_not_by_one_answer(walk):
    assert walk(valves="0").context["question"].key == "test_note"
    assert not walk(valves="0", step="result").context["verdict"].settled

    answer = walk(valves="0", slide_sets="0", crook="yes", wrap="standard", again="valves,crook", step="result")

    assert heading(answer) == "a natural horn"
    assert answer.context["verdict"].settled
    assert "Stands in" not in words(answer)


def test_cant_tell_everywhere_says_that_nothing_was_observed_and_shows_what_is_common(walk):
    given: dict[str, str] = {}
    while "question" in (answer := walk(given)).context:
        given[answer.context["question"].key] = "cant-tell"

    assert "Nothing was observed" in words(answer)
    assert "What schools mostly have" in words(answer)
    priors = walk().context["verdict"].candidates
    assert [one.key for one in answer.context["verdict"].candidates] == [one.key for one in priors]
    assert not answer.context["verdict"].settled


@pytest.mark.parametrize("key", list(QUESTIONS))
def test_nonsense_is_answered_beside_its_question_and_the_rest_is_kept(walk, key):
    rest = {name: value for name, value in FULL_DOUBLE.items() if name != key}
    answer = walk({**rest, key: "<b>trombone</b>", "step": "result"})

    assert answer.status_code == 200
    assert answer.context["question"].key == key
    page = answer.content.decode()
    assert 'aria-describedby="wrong"' in page
    assert "&lt;b&gt;trombone" in page
    assert "<b>trombone" not in page
    assert hidden(answer) == rest


@pytest.mark.parametrize(
    "value",
    ["🎺" * 50, "\x00", "4\x00", "x" * 10_000, "-1", "9" * 5000, "½", "²", "\u202e4", "4;5", "None", "٤"],
)
def test_strange_values_are_refused_in_a_sentence(walk, value):
    answer = walk(valves=value, slide_sets="2")

    assert answer.status_code == 200
    assert "is not an answer" in answer.context["problem"]
    assert len(answer.context["problem"]) < 300
    assert "<title>\n      Not taken: " in re.sub(r"\n\s*", "\n      ", answer.content.decode())
    assert hidden(answer) == {"slide_sets": "2"}


def test_an_address_that_answers_twice_is_asked_which_is_right(walk):
    answer = walk([("valves", "4"), ("valves", "5"), ("slide_sets", "2")])

    assert answer.context["question"].key == "valves"
    assert "more than once, '4' and '5'" in words(answer)
    assert hidden(answer) == {"slide_sets": "2"}
    assert walk([("valves", "4"), ("valves", "4")]).context["question"].key == "slide_sets"


@pytest.mark.parametrize(("valves", "rows"), [("4", "3"), ("3", "2")])
def test_impossible_counts_ask_to_look_again_at_either(walk, valves, rows):
    answer = walk(valves=valves, slide_sets=rows)

    assert f"No kind we know has {valves} valves and {rows} rows of slides" in words(answer)
    kept = {"valves": valves, "slide_sets": rows}
    assert link(answer, "valves") == {**kept, "step": "valves", "look": "again"}
    assert link(answer, "slide sets") == {**kept, "step": "slide_sets", "look": "again"}


def test_answers_that_clash_lead_back_to_just_the_doubtful_ones_with_the_rest_kept(walk):
    # A B♭ horn's open test note with the step-down of a 6-foot instrument and a rotary valve under the
    # right hand.
    clashing = {
        "valves": "3",
        "slide_sets": "1",
        "test_note": "0",
        "hand": "right",
        "mechanism": "rotary",
        "bell": "back",
    }
    answer = walk({**clashing, "step": "result"})

    assert answer.context["verdict"].clash
    assert "These answers do not fit together" in words(answer)
    for question, address in answer.context["look_again"]:
        assert dict(parse_qsl(address[1:])) == {**clashing, "step": question.key, "look": "again"}
    assert "hand" in [question.key for question, _ in answer.context["look_again"]]


def test_what_does_not_fit_together_is_never_as_good_as_certain(walk):
    misheard = {"valves": "4", "slide_sets": "2", "test_note": "0", "test_note_thumb": "0", "step_down": "2"}
    more = {
        "hand": "left",
        "mechanism": "rotary",
        "bell": "back",
        "wrap": "standard",
        "second_set": "longer",
        "length": "38-42",
    }
    answer = walk({**misheard, **more, "step": "result"})

    assert answer.context["verdict"].leading.probability > 0.98
    assert "The answers do not fit together" in words(answer)
    assert "How sure Open until the answers fit. " in words(answer)
    assert "99 %" not in words(answer).partition("In figures")[0]
    assert "by far the nearest" in words(answer)
    assert "certain" not in words(answer)
    assert "likely" not in words(answer).replace("most likely", "")


def test_a_second_look_is_remembered_and_not_asked_for_a_third_time(walk):
    clashing = {"valves": "3", "slide_sets": "2"}
    asked_again = walk(link(walk(clashing), "valves"))
    assert asked_again.context["question"].key == "valves"
    assert hidden(asked_again) == {"slide_sets": "2", "first": "valves:3"}

    answer = walk({**hidden(asked_again), "valves": "3"})
    assert answer.context["walk"].observations.again == {"valves"}
    assert [question.key for question, _ in answer.context["look_again"]] == ["slide_sets"]

    answer = walk({**clashing, "again": "valves,slide_sets"})
    assert answer.context["look_again"] == []
    assert "You have looked twice" in words(answer)


def test_a_second_look_shows_nothing_of_the_first_answer(walk):
    first = {**FULL_DOUBLE, "step": "wrap"}
    shown, blind = walk(first), walk({**first, "look": "again"})

    assert "aria-current" in folded(shown).split('class="choices"', 1)[1]
    assert "aria-current" not in folded(blind).split('class="choices"', 1)[1]
    assert "Still possible" in words(shown)
    assert "Still possible" not in words(blind)
    assert "Leave this answer and go on" not in words(blind)
    assert "A second look." not in words(shown)
    assert link(blind, "Leave the first answer, without a second look") == {**FULL_DOUBLE, "step": "result"}


@pytest.mark.parametrize("step", ["test_note", "test_note_thumb"])
def test_a_second_look_plays_nothing_that_the_first_answer_made_likely(walk, step):
    first = {**FULL_DOUBLE, "step": step}

    assert "Hear what to expect" in words(walk(first))
    assert "Hear what to expect" not in words(walk({**first, "look": "again"}))


def test_a_second_look_at_the_step_down_plays_all_its_answers(walk):
    blind = walk({**FULL_DOUBLE, "step_down": "3", "step": "step_down", "look": "again"})

    assert [one.words for one in blind.context["to_expect"].steps][:2] == ["down a minor third", "down a fourth"]


def test_a_second_look_at_counts_that_clash_does_not_name_them(walk):
    clashing = {"valves": "3", "slide_sets": "2", "step": "valves"}

    assert "No kind we know has 3 valves" in words(walk(clashing))
    assert "No kind we know has" not in words(walk({**clashing, "look": "again"}))


@pytest.mark.parametrize(("answer", "again"), [("standard", {"wrap"}), ("compact", set()), ("cant-tell", set())])
def test_only_the_same_answer_given_anew_counts_as_looked_at_twice(walk, answer, again):
    blind = walk({**FULL_DOUBLE, "step": "wrap", "look": "again"})
    taken = walk({**hidden(blind), "wrap": answer}).context["walk"]

    assert taken.answer("wrap") == answer
    assert taken.observations.again == again
    assert read_walk(QueryDict(taken.address()[1:])).observations == taken.observations


def test_an_answer_changed_where_it_is_seen_is_no_second_look(walk):
    seen = walk({**FULL_DOUBLE, "again": "wrap,hand", "step": "wrap"})

    assert hidden(seen)["again"] == "hand"
    assert "first" not in hidden(seen)
    assert link(seen, "Leave this answer and go on")["again"] == "hand,wrap"


def test_what_was_not_asked_yet_is_no_second_look(walk):
    assert not walk(valves="4", step="wrap", look="again").context["walk"].blind
    assert walk(valves="4", wrap="cant-tell", step="wrap", look="again").context["walk"].blind


def test_what_the_horn_would_be_without_the_doubtful_answer_is_said(walk):
    right_hand = {"valves": "3", "slide_sets": "1", "test_note": "0", "hand": "right", "mechanism": "rotary"}
    answer = walk({**right_hand, "bell": "back", "wrap": "standard", "step_down": "5", "step": "result"})

    assert "without that answer, this horn would most likely be a single horn in B♭." in words(answer)


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        # A 6-foot F tube sounds the test note with 1, a 6¾-foot E♭ tube with 0, and both slur down a fifth
        # (computed from the harmonic series); hands, pistons and shapes are common practice, no source.
        (
            {
                "hand": "right",
                "mechanism": "piston",
                "bell": "back",
                "test_note": "1",
                "wrap": "standard",
                "step_down": "7",
            },
            "mellophone in F",
        ),
        (
            {
                "hand": "right",
                "mechanism": "piston",
                "bell": "up",
                "test_note": "0",
                "wrap": "oval",
                "step_down": "7",
            },
            "alto horn in E♭",
        ),
    ],
)
def test_what_is_no_french_horn_is_said_to_be_none(walk, seen, said):
    answer = walk({"valves": "3", "slide_sets": "1", **seen, "step": "result"})

    assert f"{said}" in words(answer)
    assert "This is no French horn" in words(answer)


def test_every_observation_can_be_changed_from_the_result(walk):
    answer = walk({**FULL_DOUBLE, "step": "result"})

    steps = [dict(parse_qsl(address[1:]))["step"] for _, _, address in answer.context["observed"]]
    assert steps == [key for key in QUESTIONS if key in FULL_DOUBLE]


def test_the_result_hands_the_observations_over_to_the_register(walk):
    answer = walk({**FULL_DOUBLE, "again": "second_set", "step": "result"})

    assert link(answer, "As a new horn, or on a registered one") == {**FULL_DOUBLE, "again": "second_set"}
    assert "Put it on record" not in words(walk(valves="cant-tell", step="result"))


def test_a_walk_for_a_registered_horn_keeps_its_horn(walk):
    answer = walk({**FULL_DOUBLE, "horn": "42", "step": "result"})

    assert link(answer, "Put it on the horn you came from")["horn"] == "42"
    for nonsense in ("42 OR 1=1", "²", "٤٢", "-1", "9" * 19, "\x00"):
        assert "horn=" not in walk({**FULL_DOUBLE, "horn": nonsense}).context["onward"]


def test_a_walk_writes_nothing_and_reads_only_who_is_asking(walk, django_assert_num_queries):
    walk()
    before = Session.objects.get().session_data

    for query in ({}, {"valves": "4"}, {**FULL_DOUBLE, "step": "result"}):
        with django_assert_num_queries(4) as seen:  # session, person, post at the school, the mix of its horns
            walk(query)
        assert all(one["sql"].startswith("SELECT") for one in seen.captured_queries)

    assert Session.objects.get().session_data == before


def test_a_walk_cannot_be_posted(as_):
    school = make.school(slug="hill")

    assert as_(make.staff(Role.HEAD, school)).post("/s/hill/identify/", {"valves": "4"}).status_code == 403


def test_the_last_step_of_checks_is_shown_once_it_is_asked_or_stands_there():
    deciding = next(key for key, question in QUESTIONS.items() if question.part == PARTS[-1])

    def labels(now, **asked):
        return [row["label"] for row in read_walk(QueryDict(urlencode(asked))).progress(now)]

    assert labels("valves") == [*PARTS[:-1], "Result"]
    assert labels(deciding) == [*PARTS, "Result"]
    assert labels(None, **{deciding: next(iter(CHECKS[deciding].answers))}) == [*PARTS, "Result"]


def test_a_check_passed_over_has_been_answered_and_one_not_asked_has_not():
    walk = read_walk(QueryDict("valves=cant-tell&slide_sets=2"))
    assert [walk.answer(key) for key in ("valves", "slide_sets", "hand")] == ["cant-tell", "2", ""]


STRING_OFF = FULL_DOUBLE | {
    "test_note_thumb": "1",
    "thumb": "nothing",
    "again": "test_note_thumb,thumb",
    "step": "result",
}


def test_what_is_wrong_with_a_horn_is_said_and_one_tap_opens_its_repair_job(as_):
    school = make.school(slug="hill")
    horn, client = make.horn(school), as_(make.staff(Role.TEACHER, school))
    unknown = client.get("/s/hill/identify/", STRING_OFF | {"step": "result"})
    assert heading(unknown) == "a full double horn in F and B♭, standing in F, whose thumb string is off"
    assert "Something is wrong with it Its thumb string is off. The thumb lever changes nothing" in words(unknown)
    assert "Put it on record, and the page after that reports it to the workshop." in words(unknown)

    shown = client.get("/s/hill/identify/", STRING_OFF | {"step": "result", "horn": horn.pk})
    query = link(shown, "Report it to the workshop")
    assert query["notes"].startswith("Its thumb string is off. The thumb lever changes nothing")
    page = client.get(f"/s/hill/horns/{horn.pk}/repair/", query)
    assert page.context["form"]["work_ordered"].value() == query["notes"]
    client.post(f"/s/hill/horns/{horn.pk}/repair/", {"work_ordered": query["notes"]})
    assert horn.jobs.get().work_ordered == query["notes"]


def test_of_a_whole_horn_nothing_is_said_to_be_wrong(walk):
    assert not walk(FULL_DOUBLE | {"step": "result"}).context["wrong"]


def test_a_walk_says_its_answers_in_words_for_the_list_of_those_that_were_left():
    left = read_walk(QueryDict("valves=4&slide_sets=2&hand=cant-tell"))
    assert left.kept_as() == "Identify a horn: valves 4; slide sets 2 rows"
    assert left.kept_as("HN-0004") == "Identify HN-0004: valves 4; slide sets 2 rows"
    begun = read_walk(QueryDict(""))
    assert (begun.kept_as(), begun.kept_as("HN-0004")) == ("Identify a horn", "Identify HN-0004")


@pytest.mark.parametrize(
    ("valves", "title", "fingers"), [("0", "Does this note sound?", 0), ("3", "Which fingers sound this note?", 6)]
)
def test_a_horn_without_valves_is_offered_no_fingers_for_the_test_note(walk, valves, title, fingers):
    asked = walk(valves=valves, step="test_note")

    values = [value for key, value in offered(asked) if key == "test_note"]
    assert heading(asked) == title
    assert values == ["0", *["1", "2", "12", "23", "13", "123"][:fingers], "none", "cant-tell"]


@pytest.mark.parametrize("key", ["test_note", "step_down", "heard_up"])
def test_a_horn_without_valves_is_asked_nothing_of_thumb_or_fingers(key):
    question = {**QUESTIONS, **BY_EAR}[key].of_horn("0")

    said = [question.title, question.short, *question.how, *(f"{one.words} {one.hint}" for one in question.choices)]
    assert question.key == key
    assert not re.search("thumb|finger|valve|lever", " ".join(map(str, said)))


def test_what_was_observed_of_a_horn_without_valves_is_told_in_its_own_words(walk):
    shown = walk(valves="0", test_note="0", step="result").context["observed"]

    assert [(question.short, words) for question, words, _again in shown] == [("Valves", "None"), ("Test note", "Yes")]
    assert read_walk(QueryDict("valves=0&test_note=none")).kept_as() == "Identify a horn: valves None; test note No"
